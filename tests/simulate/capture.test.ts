/**
 * Captures of simulated traffic, read by Debian's dissector: nothing malformed, checksums right, fields as intended.
 */
import { expect } from "vitest";
import { captureTo } from "../../src/simulate/index.ts";
import { dissect, troubles } from "../support/dissect.ts";
import { needs } from "../support/needs.ts";
import { ask } from "./ask.ts";
import { type Sketch, sketch } from "./build.ts";

const { describe, it } = needs("tshark");

/** a --- sw === r === sw --- b: two VLANs on one trunk, the router masquerades what goes from a to b. */
function oneArmed(): Sketch {
  return sketch()
    .host("a", "10.0.1.10/24 fd00:1::10/64 fe80::a/64", {
      routes: ["0.0.0.0/0 via 10.0.1.1 out nic", "::/0 via fd00:1::1 out nic"],
    })
    .host("b", "10.0.2.20/24 fd00:2::20/64 fe80::b/64", {
      routes: ["0.0.0.0/0 via 10.0.2.1 out nic", "::/0 via fd00:2::1 out nic"],
      serves: ["tcp/80"],
    })
    .switch("sw", { p1: { untagged: 10 }, p2: { untagged: 20 }, p3: { tagged: [10, 20] } })
    .device("r", "router", ["lan"])
    .router("r", {
      legs: { "one@10": "10.0.1.1/24 fd00:1::1/64 fe80::1/64", "two@20": "10.0.2.1/24 fd00:2::1/64 fe80::2/64" },
      on: { "one@10": "r:lan", "two@20": "r:lan" },
      source: [{ out: "r/two", source: "10.0.1.0/24", to: "egress-address" }],
    })
    .cable("a:nic", "sw:p1")
    .cable("b:nic", "sw:p2")
    .cable("r:lan", "sw:p3");
}

function captured(destination: string, service: string): Uint8Array {
  const capture = captureTo();
  ask(oneArmed().simulate({ capture: capture.sink }), "a", destination, service, { sourcePort: 5000 });
  return capture.file();
}

describe("a capture of a simulation", () => {
  it.each([
    ["a TCP exchange behind masquerade", "10.0.2.20", "tcp/80"],
    ["a refused datagram, quoted in an error that was translated back", "10.0.2.20", "udp/9"],
    ["a neighbour that does not answer", "10.0.2.99", "icmp/8"],
    ["IPv6 with neighbour discovery", "fd00:2::20", "tcp/80"],
    ["an IPv6 error", "fd00:2::99", "udp/9"],
  ])("has nothing wrong with it: %s", (_name, destination, service) => {
    expect(troubles(captured(destination, service))).toEqual([]);
  });

  it("shows the SYN on each link as it was there: tag, addresses, ports, hop limit", () => {
    const fields = ["frame.interface_name", "vlan.id", "ip.src", "ip.dst", "tcp.srcport", "ip.ttl", "tcp.flags"];
    const syns = dissect(captured("10.0.2.20", "tcp/80"), fields).filter((frame) => frame["tcp.flags"] === "0x0002");
    expect(
      syns.map((frame) =>
        fields
          .slice(0, 6)
          .map((field) => frame[field])
          .join(" "),
      ),
    ).toEqual([
      "a:nic--sw:p1  10.0.1.10 10.0.2.20 5000 64",
      "r:lan--sw:p3 10 10.0.1.10 10.0.2.20 5000 64",
      "r:lan--sw:p3 20 10.0.2.1 10.0.2.20 5000 63",
      "b:nic--sw:p2  10.0.2.1 10.0.2.20 5000 63",
    ]);
  });

  it("counts virtual time, which never goes back", () => {
    const times = dissect(captured("10.0.2.99", "icmp/8"), ["frame.time_epoch"]).map((frame) =>
      Number(frame["frame.time_epoch"]),
    );
    expect(times).toEqual([...times].sort((a, b) => a - b));
    expect((times.at(-1) ?? 0) - (times[0] ?? 0)).toBeGreaterThan(2); // three questions, a second apart
  });
});
