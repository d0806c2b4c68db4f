/**
 * Link-local addresses mean something on their own link only (RFC 4007 section 5): interfaces of one trunk share a
 * hardware address and so a link-local one, and what comes in by the one has not come to the other.
 */
import { describe, expect, it } from "vitest";
import { Evaluation } from "../../src/evaluate/index.ts";
import { settle } from "../../src/settle/index.ts";
import { type Asked, ask, direct, questionOf, Sketch, told } from "./build.ts";

/** A router on a stick: staff and guests on one trunk, with one link-local address for both. */
function stick(): Sketch {
  const access = (untagged: number) => ({ untagged, tagged: [] });
  return new Sketch()
    .device("gate", "router", ["trunk"])
    .router("gate", {
      legs: { "staff@10": "10.0.1.1/24 fe80::1/64", "guests@20": "10.0.2.1/24 fe80::1/64" },
      on: { "staff@10": "gate:trunk", "guests@20": "gate:trunk" },
      throughElse: "drop",
      to: [{ dest: "10.0.1.1", do: "drop" }],
    })
    .switch("sw", { up: { tagged: [10, 20] }, s: access(10), g: access(20) })
    .cable("gate:trunk", "sw:up");
}

const STAFF = { legs: ["gate/staff"], stacks: ["gate"] };

/** A router beside a host that has on their link the address that the router has on another one. */
function twin(): Sketch {
  return new Sketch()
    .device("gate", "router", ["a", "b"])
    .router("gate", {
      legs: { a: "10.0.1.1/24 fe80::a/64", b: "10.0.2.1/24 fe80::b/64" },
      on: { a: "gate:a", b: "gate:b" },
    })
    .host("twin", "10.0.1.9/24 fe80::b/64")
    .host("other", "10.0.2.9/24 fe80::9/64")
    .cable("gate:a", "twin:nic")
    .cable("gate:b", "other:nic");
}

function endsOf(from: string, target: Partial<Asked>, sketch = stick()): readonly string[] {
  const asked = { from, ...target };
  const network = sketch.network();
  // Every witness is replayed, so both engines say the same.
  const evaluation = new Evaluation(network);
  evaluation.prove(
    { picks: [], settled: settle(network), failures: [], tunnels: [] },
    questionOf(sketch, network, asked),
  );
  return direct(ask(sketch, asked)).map((each) => told(sketch, each));
}

describe("a link-local address that two interfaces share", () => {
  it("is reached by the link of the interface that is meant", () => {
    expect(endsOf("sw:s", STAFF)).toEqual(["delivered at gate: gate deliver"]);
  });

  it("is not reached by the link of the other", () => {
    expect(endsOf("sw:g", STAFF)).toEqual([]);
  });

  it("is reached by either where the device is meant", () => {
    expect(endsOf("sw:g", { legs: ["gate/staff", "gate/guests"], stacks: ["gate"] })).toHaveLength(1);
  });

  it("is reached by either where the address itself is meant", () => {
    expect(endsOf("sw:g", { to: "fe80::1", stacks: ["gate"] })).toHaveLength(1);
  });

  it("is looked for on the link that a program names, though the device has it on another one", () => {
    const target = { legs: ["twin/nic"], stacks: ["twin"], when: { dest: "fe80::b" } };
    expect(endsOf("gate", target, twin())).toEqual(["delivered at twin: twin deliver"]);
  });

  it("is reached by a program of the device, which names the link", () => {
    expect(endsOf("gate", { ...STAFF, when: { dest: "fe80::1" } })).toHaveLength(1);
  });
});
