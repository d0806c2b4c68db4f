/**
 * Who forwards answers for the first address of each IPv6 prefix it is in (RFC 4291 section 2.6.1), so packets to it come to
 * the router and are no concern of its rules for transit.
 */
import { describe, expect, it } from "vitest";
import { Evaluation } from "../../src/evaluate/index.ts";
import { settle } from "../../src/settle/index.ts";
import type { StackSketch } from "../simulate/build.ts";
import { type Asked, ask, direct, questionOf, Sketch, told } from "./build.ts";

/** A router that lets nothing through and takes nothing that is sent to its own addresses. */
function gate(legs: { readonly a: string; readonly b: string }, more: Partial<StackSketch> = {}): Sketch {
  return new Sketch()
    .device("gate", "router", ["a", "b"])
    .router("gate", {
      legs,
      throughElse: "drop",
      to: ["fd00:1::1", "fd00:2::1", "fe80::/10"].map((dest) => ({ dest, do: "drop" as const })),
      ...more,
    })
    .switch("sw", { up: { untagged: 1, tagged: [] }, s: { untagged: 1, tagged: [] } })
    .cable("gate:a", "sw:up");
}

const PLAIN = { a: "fd00:1::1/64", b: "fd00:2::1/64" };
const GATE = { legs: ["gate/a", "gate/b"], stacks: ["gate"] };

function endsOf(sketch: Sketch, target: Partial<Asked>): readonly string[] {
  const asked = { from: "sw:s", ...target };
  const network = sketch.network();
  // Every witness is replayed, so both engines say the same.
  const evaluation = new Evaluation(network);
  evaluation.prove(
    { picks: [], settled: settle(network), failures: [], tunnels: [] },
    questionOf(sketch, network, asked),
  );
  return direct(ask(sketch, asked)).map((each) => told(sketch, each));
}

const only = (dest: string): Partial<Asked> => ({ ...GATE, when: { dest } });

describe("the first address of a prefix", () => {
  it.each(["fd00:1::", "fd00:2::"])("leads to a router that is in it: %s", (dest) => {
    expect(endsOf(gate(PLAIN), only(dest))).toEqual(["delivered at gate: gate deliver"]);
  });

  it("leads to a strong host by the leg that is in it only", () => {
    const strong = gate(PLAIN, { answersFor: "this-leg" });
    expect(endsOf(strong, only("fd00:1::"))).toEqual(["delivered at gate: gate deliver"]);
    expect(endsOf(strong, only("fd00:2::"))).toEqual([]);
  });

  it("leads to no box that does not forward", () => {
    expect(endsOf(gate(PLAIN, { forwards: false }), only("fd00:1::"))).toEqual([]);
  });

  it("leads to no router in IPv4", () => {
    expect(endsOf(gate({ a: "10.0.1.1/24", b: "10.0.2.1/24" }), only("10.0.2.0"))).toEqual([]);
  });

  it.each([
    [127, "fd00:2::"],
    [128, "fd00:2::"],
  ])("is a station's where the prefix has a length of %i (RFC 6164)", (length, dest) => {
    expect(endsOf(gate({ ...PLAIN, b: `fd00:2::1/${length}` }), only(dest))).toEqual([]);
  });
});
