/**
 * Frames over links: bonds (kernel facts 40, 41, 45), hubs, cables that are down, isolation, storms, learning.
 */
import { describe, expect, it } from "vitest";
import type { Bond, Settled } from "../../src/network/index.ts";
import { settle } from "../../src/settle/index.ts";
import { createSimulation } from "../../src/simulate/index.ts";
import { TPID_CUSTOMER } from "../../src/wire/index.ts";
import { ask, packet, tcp, told, udp } from "./ask.ts";
import { type Sketch, sketch } from "./build.ts";

const ask1 = (net: Sketch, destination: string, service?: string) =>
  told(ask(net.simulate(), "a", destination, service));

/** a --- s === t --- b, two cables between the switches. */
function bonded(hash: Bond["hash"], far: Partial<Bond> = {}): Sketch {
  return sketch()
    .host("a", "10.0.0.1/24")
    .host("b", "10.0.0.2/24", { serves: ["tcp", "udp"] })
    .device("s", "switch", ["p", "x1", "x2"])
    .device("t", "switch", ["p", "x1", "x2"])
    .bond("s", "pair", ["x1", "x2"], { hash })
    .bond("t", "pair", ["x1", "x2"], { hash, ...far })
    .switch("s", { p: { untagged: 1 }, pair: { untagged: 1 } }, { bonds: ["pair"] })
    .switch("t", { p: { untagged: 1 }, pair: { untagged: 1 } }, { bonds: ["pair"] })
    .cable("a:nic", "s:p")
    .cable("b:nic", "t:p")
    .cable("s:x1", "t:x1")
    .cable("s:x2", "t:x2");
}

/** The member of the pair that a request takes: the last part of its port. */
function member(net: Sketch, sourcePort: number, service = "udp/53"): string {
  const { path } = ask(net.simulate(), "a", "10.0.0.2", service, { sourcePort });
  return path.find(({ at, did }) => did === "leave" && at.startsWith("s:x"))?.at ?? "none";
}

describe("a bond", () => {
  it("carries an exchange over the member that the hash names", () => {
    expect(ask1(bonded("layer2"), "10.0.0.2", "tcp/80")).toBe("answered");
  });

  it("layer3+4: the ports as one little-endian word, then addresses, folded and halved (fact 45)", () => {
    // By hand for 10.0.0.1:5000 to 10.0.0.2:53: (5000 << 16 | 53) swapped, xor both addresses swapped.
    const swap = (word: number) => Buffer.from(Uint32Array.of(word).buffer).readUInt32BE(0);
    const expected = (port: number) => {
      let hash = (swap(((port << 16) | 53) >>> 0) ^ swap(0x0a000001) ^ swap(0x0a000002)) >>> 0;
      hash ^= hash >>> 16;
      hash ^= hash >>> 8;
      return ["s:x1", "s:x2"][(hash >>> 1) % 2];
    };
    const ports = [5000, 5001, 5256, 5512, 6000, 7000];
    expect(ports.map((port) => member(bonded("layer3+4"), port))).toEqual(ports.map(expected));
    expect(new Set(ports.map(expected)).size).toBe(2);
  });

  it("layer2: last octets of both hardware addresses and the Ethernet type (fact 45)", () => {
    const net = bonded("layer2");
    const [a, b] = ["a", "b"].map(
      (id) => net.network().stacks.find((stack) => stack.id === id)?.interfaces[0]?.hardware ?? 0n,
    );
    const hash = Number(((a ?? 0n) ^ (b ?? 0n)) & 0xffn) ^ 0x0800;
    expect(member(net, 5000)).toBe(["s:x1", "s:x2"][hash % 2]);
  });

  it("layer2+3: the layer 2 hash, both addresses as little-endian words, folded (fact 45)", () => {
    const net = bonded("layer2+3");
    const hardware = (id: string) =>
      net.network().stacks.find((stack) => stack.id === id)?.interfaces[0]?.hardware ?? 0n;
    let hash = Number((hardware("a") ^ hardware("b")) & 0xffn) ^ 0x0800 ^ 0x0100000a ^ 0x0200000a;
    hash ^= hash >>> 16;
    hash ^= hash >>> 8;
    expect(member(net, 5000)).toBe(["s:x1", "s:x2"][(hash >>> 0) % 2]);
  });

  it("against a static one loses the flows that arrive on an idle member, fixed per flow (fact 41)", () => {
    // t runs LACP alone: only its first member carries; s spreads. The address of `a` ends in an odd number, so that its ARP
    // requests (255 ^ 1 ^ 0x0806, even) take the first member.
    const net = () =>
      sketch()
        .device("spare", "host", ["one"])
        .host("a", "10.0.0.1/24")
        .host("b", "10.0.0.2/24", { serves: ["udp"] })
        .device("s", "switch", ["p", "x1", "x2"])
        .device("t", "switch", ["p", "x1", "x2"])
        .bond("s", "pair", ["x1", "x2"], { hash: "layer3+4", mode: { kind: "static" } })
        .bond("t", "pair", ["x1", "x2"], { hash: "layer3+4" })
        .switch("s", { p: { untagged: 1 }, pair: { untagged: 1 } }, { bonds: ["pair"] })
        .switch("t", { p: { untagged: 1 }, pair: { untagged: 1 } }, { bonds: ["pair"] })
        .cable("a:nic", "s:p")
        .cable("b:nic", "t:p")
        .cable("s:x1", "t:x1")
        .cable("s:x2", "t:x2");
    const outcomes = [5000, 5001, 5256, 5512].map((sourcePort) => {
      const result = ask(net().simulate(), "a", "10.0.0.2", "udp/53", { sourcePort });
      return result.fate.end === "delivered"
        ? "through"
        : "reason" in result.fate
          ? result.fate.reason
          : result.fate.end;
    });
    expect([...new Set(outcomes)].sort()).toEqual(["member-idle", "through"]);
  });

  it("takes the member that is picked, and says so", () => {
    const net = bonded("layer3+4");
    const run = (option: string) => {
      const simulation = net.simulate({ picks: [{ choice: "s:pair/member", option }] });
      return ask(simulation, "a", "10.0.0.2", "udp/53").path.find(({ at }) => at.startsWith("s:x"))?.at;
    };
    const [one, other] = [run("s:x1"), run("s:x2")];
    expect([one, other].filter((each) => each !== undefined)).toHaveLength(2);
  });
});

describe("links", () => {
  it("several on one port make a hub: all hear, and take what is for them", () => {
    const net = sketch()
      .host("a", "10.0.0.1/24")
      .host("b", "10.0.0.2/24")
      .host("c", "10.0.0.3/24")
      .cable("a:nic", "b:nic")
      .cable("b:nic", "c:nic");
    expect(ask1(net, "10.0.0.3")).toBe("answered");
    const { endings } = net.simulate().sendFrom("a", packet("10.0.0.1", "10.0.0.3", udp(1, 2)));
    expect(endings.filter(({ descent }) => descent === "sent").map(({ fate }) => fate)).toMatchObject([
      { at: "b/nic", reason: "not-for-this-station" },
      { at: "c", end: "refused" },
    ]);
  });

  it("that are down carry nothing, and the cable is to blame", () => {
    const net = sketch()
      .host("a", "10.0.0.1/24")
      .host("b", "10.0.0.2/24")
      .switch("sw", { p1: { untagged: 1 }, p2: { untagged: 1 } })
      .cable("a:nic", "sw:p1")
      .cable("b:nic", "sw:p2");
    const network = net.network();
    const simulation = createSimulation(network, settle(network, { down: ["b:nic--sw:p2"] }));
    const result = ask(simulation, "a", "10.0.0.2");
    expect(told(result)).toBe("refused 3/1");
    expect(net.says(result.decidedBy[0])).toBe("cable b:nic--sw:p2");
  });

  it("a VLAN interface on a bridged port takes its VLAN before the bridge (fact 36)", () => {
    const net = sketch()
      .host("a", "10.0.0.1/24", { legs: { "nic@10": "10.0.0.1/24" }, on: { "nic@10": "a:nic" } })
      .device("a", "host", ["nic"])
      .device("sw", "switch", ["p1", "p2"])
      .switch("sw", { p1: { tagged: [10, 20] }, p2: { tagged: [10, 20] } })
      .stack("sw", "switch", { legs: { "own@10": "10.0.0.9/24" }, on: { "own@10": "sw:p1" } })
      .host("b", "", { legs: { "nic@10": "10.0.0.2/24" }, on: { "nic@10": "b:nic" } })
      .device("b", "host", ["nic"])
      .cable("a:nic", "sw:p1")
      .cable("b:nic", "sw:p2");
    expect(ask1(net, "10.0.0.9")).toBe("answered");
    expect(ask1(net, "10.0.0.2")).toBe("refused 3/1");
  });
});

describe("a switch over time", () => {
  const three = () =>
    sketch()
      .host("a", "10.0.0.1/24")
      .host("b", "10.0.0.2/24")
      .host("c", "10.0.0.3/24")
      .switch("sw", { p1: { untagged: 1 }, p2: { untagged: 1 }, p3: { untagged: 1 } })
      .cable("a:nic", "sw:p1")
      .cable("b:nic", "sw:p2")
      .cable("c:nic", "sw:p3");
  const strays = (seconds: number, net = three()) => {
    const simulation = net.simulate();
    ask(simulation, "a", "10.0.0.2");
    const b = net.network().stacks.find(({ id }) => id === "b")?.interfaces[0]?.hardware ?? 0n;
    simulation.wait(seconds);
    const frame = {
      destination: b,
      source: 0x0600n,
      tags: [],
      payload: { kind: "ip", packet: packet("10.0.0.1", "10.0.0.2", udp(1, 2)) },
    } as const;
    const { endings } = simulation.inject({ at: "sw:p1", frame });
    // The answer is flooded, too: its neighbour is known still, its place is not.
    const copies = endings.filter(({ descent }) => descent === "sent");
    return copies.filter(({ fate }) => "reason" in fate && fate.reason === "not-for-this-station").length;
  };

  it("uses an entry within the ageing time and floods after it (RFC 4188 dot1dTpAgingTime: 300 s)", () => {
    expect([strays(299), strays(301)]).toEqual([0, 1]);
  });

  it("moves a station at once when it speaks elsewhere (fact 38)", () => {
    const net = three();
    const simulation = net.simulate();
    ask(simulation, "a", "10.0.0.2");
    const hardware = (id: string) =>
      net.network().stacks.find((stack) => stack.id === id)?.interfaces[0]?.hardware ?? 0n;
    const speak = (at: string, source: bigint, destination: bigint) =>
      simulation.inject({
        at,
        frame: {
          destination,
          source,
          tags: [],
          payload: { kind: "ip", packet: packet("10.0.0.9", "10.0.0.8", tcp(1, 2, 2)) },
        },
      });
    speak("sw:p3", hardware("b"), hardware("a"));
    const { endings } = speak("sw:p1", 0x0600n, hardware("b"));
    expect(endings.filter(({ descent }) => descent === "sent").map(({ fate }) => fate.at)).toEqual(["c/nic"]);
  });

  it("loses everything in a storm's domain, and the storm's line is to blame", () => {
    const net = three();
    const storm = net.origin("loop");
    const change = (settled: Settled): Settled => ({
      ...settled,
      storms: [{ ports: [], domains: [{ bridge: "sw/bridge", vlan: 1 }], origin: storm }],
    });
    const result = ask(net.simulate({}, change), "a", "10.0.0.2");
    expect(told(result)).toBe("refused 3/1");
    expect(net.says(result.decidedBy[0])).toBe("loop");
  });

  /** How a frame of a VLAN ends that is put in at a port of `three`, under storms at its bridge. */
  const stormed = (vlan: number, ...storms: readonly string[]): unknown => {
    const net = three();
    const change = (settled: Settled): Settled => ({
      ...settled,
      storms: storms.map((line) => ({
        ports: [],
        domains: [{ bridge: "sw/bridge", vlan }],
        origin: net.origin(line),
      })),
    });
    const tags = [{ tpid: TPID_CUSTOMER, priority: 0, dropEligible: false, vlan }];
    const payload = { kind: "ip", packet: packet("10.0.0.9", "10.0.0.8", tcp(1, 2, 2)) } as const;
    const frame = { destination: 0x0800n, source: 0x0600n, tags, payload };
    const [ending] = net.simulate({}, change).inject({ at: "sw:p1", frame }).endings;
    if (ending?.fate.end !== "dropped") return undefined;
    return [ending.fate.reason, net.says(ending.fate.origin)];
  };

  it("keeps a frame that the port refuses out of the storm", () => {
    expect(stormed(2, "loop")).toEqual(["not-member", expect.not.stringContaining("loop")]);
  });

  it("tells the first of several storms in one domain", () => {
    expect(stormed(1, "loop", "another loop")).toEqual(["storm", "loop"]);
  });
});

describe("segments", () => {
  it("are told where an IP packet was on them, as bridge and VLAN or as attachment and tag", () => {
    const net = sketch()
      .host("a", "10.0.1.1/24", { routes: ["0.0.0.0/0 via 10.0.1.9 out nic"] })
      .host("b", "10.0.2.2/24")
      .switch("sw", { p1: { untagged: 10 }, p2: { untagged: 20 }, p3: { tagged: [10, 20] } })
      .device("r", "router", ["lan"])
      .router("r", { legs: { "x@10": "10.0.1.9/24", "y@20": "10.0.2.9/24" }, on: { "x@10": "r:lan", "y@20": "r:lan" } })
      .cable("a:nic", "sw:p1")
      .cable("b:nic", "sw:p2")
      .cable("r:lan", "sw:p3");
    const { segments } = net.simulate().sendFrom("a", packet("10.0.1.1", "10.0.2.2", udp(1, 2)));
    const points = segments
      .filter(({ descent }) => descent === "sent")
      .map(({ point }) => `${point.at} ${point.vlan ?? "-"}`);
    expect(points).toEqual(["a:nic -", "sw/bridge 10", "r:lan 10", "r:lan 20", "sw/bridge 20", "b:nic -"]);
  });

  it("take a packet to a neighbour that is assumed to exist", () => {
    const net = sketch()
      .host("a", "10.0.0.1/24")
      .switch("sw", { p1: { untagged: 1 }, p2: { untagged: 1 } })
      .cable("a:nic", "sw:p1");
    const ghost = { interface: "a/nic", address: { family: 4, value: 0x0a000063n } } as const;
    const crossings = (standIns: readonly (typeof ghost)[]) =>
      net
        .simulate({ standIns })
        .sendFrom("a", packet("10.0.0.1", "10.0.0.99", udp(1, 2)))
        .segments.map(({ point }) => point.at);
    expect(crossings([])).toEqual([]);
    expect(crossings([ghost])).toEqual(["a:nic", "sw/bridge"]);
  });

  it("a tagged frame let in at a port enters the VLAN of its tag", () => {
    const net = sketch()
      .host("b", "", { legs: { "nic@20": "10.0.0.2/24" }, on: { "nic@20": "b:nic" } })
      .device("b", "host", ["nic"])
      .switch("sw", { p1: { untagged: 10, tagged: [20] }, p2: { tagged: [20] } })
      .cable("b:nic", "sw:p2");
    const hardware = net.network().stacks[0]?.interfaces[0]?.hardware ?? 0n;
    const tags = [{ tpid: TPID_CUSTOMER, priority: 0, dropEligible: false, vlan: 20 }];
    const frame = {
      destination: hardware,
      source: 0x0600n,
      tags,
      payload: { kind: "ip", packet: packet("10.0.0.9", "10.0.0.2", udp(1, 2)) },
    } as const;
    expect(
      net
        .simulate()
        .inject({ at: "sw:p1", frame })
        .arrivals.map(({ stack, ingress }) => [stack, ingress]),
    ).toEqual([["b", "b/nic"]]);
  });
});
