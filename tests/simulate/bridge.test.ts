/**
 * One frame through one bridge: kernel facts 33 to 38 and 49. The number stands beside each case.
 */
import { describe, expect, it } from "vitest";
import { BROADCAST_HARDWARE } from "../../src/address/index.ts";
import type { Bridge } from "../../src/network/index.ts";
import { bridgeFrame } from "../../src/simulate/index.ts";
import { type Frame, type Tag, TPID_CUSTOMER, TPID_SERVICE } from "../../src/wire/index.ts";
import { packet, udp } from "./ask.ts";
import { type PortSketch, sketch } from "./build.ts";

const STATION = 0x0200000000aan;
const OTHER = 0x0200000000bbn;

function bridge(ports: Readonly<Record<string, PortSketch>>, more = {}): Bridge {
  const [only] = sketch().switch("sw", ports, more).network().bridges;
  if (only === undefined) throw new Error("no bridge");
  return only;
}

function tag(vlan: number, tpid = TPID_CUSTOMER): Tag {
  return { tpid, priority: 5, dropEligible: false, vlan };
}

function frame(destination: bigint, ...tags: readonly Tag[]): Frame {
  const body = { kind: "ip", packet: packet("10.0.0.1", "10.0.0.2", udp(1, 2)) } as const;
  return { destination, source: STATION, tags, payload: body };
}

/** Where a frame leaves: "p2", "p3 tagged 10", in order; or why it ends. */
function pass(on: Bridge, ingress: string, sent: Frame, situation: Parameters<typeof bridgeFrame>[3] = {}): string {
  const { stop, exits } = bridgeFrame(on, `sw/bridge/${ingress}`, sent, situation);
  if (stop !== undefined) return "reason" in stop ? stop.reason : "unknown";
  return exits
    .filter((exit) => exit.stop === undefined)
    .map(({ port, frame: out }) => [port.replace("sw/bridge/", ""), ...out.tags.map(({ vlan }) => vlan)].join(" "))
    .join(", ");
}

const plain = bridge({ p1: { untagged: 10 }, p2: { untagged: 10 }, p3: { tagged: [10, 20] }, p4: { untagged: 20 } });

describe("a bridge that obeys tags", () => {
  it("floods to all members but the port it came from, with or without the tag as each says", () => {
    expect(pass(plain, "p1", frame(BROADCAST_HARDWARE))).toBe("p2, p3 10");
    expect(pass(plain, "p3", frame(BROADCAST_HARDWARE, tag(20)))).toBe("p4");
  });

  it("sends to the port where the destination was heard, and nowhere else", () => {
    expect(pass(plain, "p1", frame(OTHER), { learned: [[10, OTHER, "sw/bridge/p2"]] })).toBe("p2");
    expect(pass(plain, "p1", frame(OTHER), { learned: [[10, OTHER, "sw/bridge/p1"]] })).toBe("same-port");
  });

  it("keeps a frame that bears the address it goes to, wherever that was heard, since it learns first (seen on Linux 6.18)", () => {
    const own = { ...frame(OTHER), source: OTHER };
    expect(pass(plain, "p1", own)).toBe("same-port");
    expect(pass(plain, "p1", own, { learned: [[10, OTHER, "sw/bridge/p2"]] })).toBe("same-port");
    expect(pass(plain, "p1", { ...own, destination: BROADCAST_HARDWARE })).toBe("p2, p3 10");
  });

  it("learns per VLAN (fact 38)", () => {
    expect(pass(plain, "p1", frame(OTHER), { learned: [[20, OTHER, "sw/bridge/p4"]] })).toBe("p2, p3 10");
  });

  it("drops a tag outside the port's membership (fact 34)", () => {
    expect(pass(plain, "p3", frame(BROADCAST_HARDWARE, tag(30)))).toBe("not-member");
    expect(pass(plain, "p1", frame(BROADCAST_HARDWARE, tag(20)))).toBe("not-member");
  });

  it("accepts it where the port does not filter (802.1Q default, RFC 4363 dot1qPortIngressFiltering)", () => {
    const open = bridge({ p1: { untagged: 10, filter: false }, p2: { tagged: [20] } });
    expect(pass(open, "p1", frame(BROADCAST_HARDWARE, tag(20)))).toBe("p2 20");
  });

  it("drops untagged frames without a port VLAN, VLAN 0 too (fact 34)", () => {
    expect(pass(plain, "p3", frame(BROADCAST_HARDWARE))).toBe("no-port-vlan");
    expect(pass(plain, "p3", frame(BROADCAST_HARDWARE, tag(0)))).toBe("no-port-vlan");
  });

  it("takes VLAN 0 as untagged and keeps its priority (fact 34)", () => {
    const { exits } = bridgeFrame(plain, "sw/bridge/p1", frame(BROADCAST_HARDWARE, tag(0)));
    expect(exits.find(({ port }) => port === "sw/bridge/p3")?.frame.tags).toEqual([tag(10)]);
  });

  it("accepts a tag equal to the port VLAN: a double tag hops networks (fact 34)", () => {
    const trunk = bridge({ p1: { untagged: 10 }, p2: { untagged: 10, tagged: [20] } });
    expect(pass(trunk, "p1", frame(BROADCAST_HARDWARE, tag(10), tag(20)))).toBe("p2 20");
  });

  it("takes a service tag as untagged and keeps it inside (fact 34)", () => {
    expect(pass(plain, "p1", frame(BROADCAST_HARDWARE, tag(20, TPID_SERVICE)))).toBe("p2 20, p3 10 20");
  });

  it("admits only the kinds that a port admits (RFC 4363 dot1qPortAcceptableFrameTypes)", () => {
    const strict = bridge({
      p1: { untagged: 10, tagged: [20], admit: "tagged" },
      p2: { untagged: 10, tagged: [20], admit: "untagged" },
    });
    expect(pass(strict, "p1", frame(BROADCAST_HARDWARE))).toBe("kind-not-admitted");
    expect(pass(strict, "p1", frame(BROADCAST_HARDWARE, tag(0)))).toBe("kind-not-admitted");
    expect(pass(strict, "p1", frame(BROADCAST_HARDWARE, tag(20)))).toBe("p2 20");
    expect(pass(strict, "p2", frame(BROADCAST_HARDWARE, tag(20)))).toBe("kind-not-admitted");
  });

  it("untagged without a port VLAN hears that VLAN and speaks into another: one-way (fact 33)", () => {
    const odd = bridge({ p1: { untagged: 10, portVlan: 1, filter: false }, p2: { untagged: 10 }, p3: { untagged: 1 } });
    expect(pass(odd, "p2", frame(BROADCAST_HARDWARE))).toBe("p1");
    expect(pass(odd, "p1", frame(BROADCAST_HARDWARE))).toBe("p3");
  });

  it("keeps isolated ports from one another, not from others (fact 38)", () => {
    const guests = bridge({
      p1: { untagged: 1, isolation: "g" },
      p2: { untagged: 1, isolation: "g" },
      p3: { untagged: 1 },
    });
    expect(pass(guests, "p1", frame(BROADCAST_HARDWARE))).toBe("p3");
    expect(pass(guests, "p3", frame(BROADCAST_HARDWARE))).toBe("p1, p2");
  });

  it("drops in silence what exceeds the egress MTU + 18, the outer tag not counted (fact 49)", () => {
    const full = (bytes: number, ...tags: readonly Tag[]): Frame => {
      const data = { kind: "bytes", bytes: new Uint8Array(bytes - 28) } as const;
      const body = { kind: "udp", sourcePort: 1, destinationPort: 2, data } as const;
      return { ...frame(OTHER, ...tags), payload: { kind: "ip", packet: packet("10.0.0.1", "10.0.0.2", body) } };
    };
    const small = {
      mtus: new Map([
        ["sw/bridge/p2", 1400],
        ["sw/bridge/p3", 1400],
      ]),
    };
    expect(pass(plain, "p1", full(1400), small)).toBe("p2, p3 10");
    expect(pass(plain, "p1", full(1401), small)).toBe("");
  });

  it("neither receives nor sends on a port that the tree blocks", () => {
    const settings = { helloSeconds: 2, maxAgeSeconds: 20, forwardDelaySeconds: 15, priority: 0, ports: [] };
    const withTree = bridge({ p1: { untagged: 1 }, p2: { untagged: 1 }, p3: { untagged: 1 } }, { tree: settings });
    const blocked = [{ bridge: "sw/bridge", port: "sw/bridge/p2", origin: plain.origin }];
    expect(pass(withTree, "p1", frame(BROADCAST_HARDWARE), { blocked })).toBe("p3");
    expect(pass(withTree, "p2", frame(BROADCAST_HARDWARE), { blocked })).toBe("tree-blocked");
  });
});

describe("reserved groups (fact 37; IEEE 802.1Q section 8.6.3)", () => {
  const SLOW = 0x0180c2000002n;
  const TREE = 0x0180c2000000n;

  it("are eaten or passed as the bridge does", () => {
    expect(pass(plain, "p1", frame(SLOW))).toBe("reserved-group");
    expect(pass(plain, "p1", frame(TREE))).toBe("p2, p3 10");
  });

  it("are a question where nobody knows the habit, answered by a pick", () => {
    const some = bridge({ p1: {}, p2: {} }, { unmanaged: true, spanningTree: "unknown" });
    expect(pass(some, "p1", frame(TREE))).toBe("unknown");
    expect(pass(some, "p1", frame(TREE), { habit: "pass" })).toBe("p2");
    expect(pass(some, "p1", frame(TREE), { habit: "eat" })).toBe("reserved-group");
  });
});

describe("a bridge that ignores tags (fact 37)", () => {
  const desk = bridge({ p1: {}, p2: {}, p3: {} }, { unmanaged: true });

  it("passes all tags unchanged, with one table for all", () => {
    expect(pass(desk, "p1", frame(BROADCAST_HARDWARE, tag(10), tag(20)))).toBe("p2 10 20, p3 10 20");
    expect(pass(desk, "p1", frame(OTHER, tag(10)), { learned: [[-1, OTHER, "sw/bridge/p2"]] })).toBe("p2 10");
  });
});
