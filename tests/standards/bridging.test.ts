/**
 * Published values of the forwarding of bridges, on a switch of the `rfc` profile that is written as a document. Numbers are
 * those of the project's catalogue; IEEE 802.1Q by its YANG module and by RFC 4363 and RFC 4188, which repeat its rules.
 */
import { describe, expect, it } from "vitest";
import { BROADCAST_HARDWARE } from "../../src/address/index.ts";
import { settle } from "../../src/settle/index.ts";
import { createSimulation, type Simulation } from "../../src/simulate/index.ts";
import { type Frame, type Payload, TPID_CUSTOMER } from "../../src/wire/index.ts";
import { load } from "../document/support.ts";
import { networkOf } from "../support/site.ts";

const X = 0x0200_0000_00aan;
const Y = 0x0200_0000_00bbn;
const OTHER: Payload = { kind: "other", etherType: 0x88b5, bytes: new Uint8Array(46) };

/** Ports p1 to p4 of a switch, each cabled to a host of its own, and what leaves by them. */
class Bench {
  readonly #simulation: Simulation;
  #out: string[] = [];

  constructor(switching: string) {
    const hosts = [1, 2, 3, 4].map((number) => `h${number}: { is: host, ports: { nic: 1G } }`);
    const network = networkOf(
      `devices: { sw: { is: switch, ports: { p1..4: 1G } }, ${hosts.join(", ")} }
cables: [[sw:p1, h1:nic], [sw:p2, h2:nic], [sw:p3, h3:nic], [sw:p4, h4:nic]]`,
      `devices: { sw: { profile: rfc${switching === "" ? "" : `, switching: { ${switching} }`} } }`,
    );
    const frame = (point: string, _: number, { tags }: Frame): void => {
      const port = /sw:(p\d)/.exec(point)?.[1] ?? point;
      this.#out.push([port, ...tags.map(({ vlan, priority }) => `tagged ${vlan} priority ${priority}`)].join(" "));
    };
    this.#simulation = createSimulation(network, settle(network), { capture: { frame } });
  }

  /** Where a frame from a port comes out, in the order of the ports; `tag`: VLAN and priority. */
  send(port: string, more: { tag?: [number, number]; to?: bigint; from?: bigint; payload?: Payload } = {}): string {
    const { tag, to = BROADCAST_HARDWARE, from = X, payload = OTHER } = more;
    const tags = tag ? [{ tpid: TPID_CUSTOMER, vlan: tag[0], priority: tag[1], dropEligible: false }] : [];
    this.#out = [];
    this.#simulation.inject({ at: `sw:${port}`, frame: { destination: to, source: from, tags, payload } });
    return this.#out.slice(1).sort().join(", "); // the first is the frame as it entered
  }

  wait(seconds: number): void {
    this.#simulation.wait(seconds);
  }
}

const MEMBERS = "ports: { p1: { untagged: 10 }, p2: { untagged: 10 }, p3: { tagged: [10, 20] }, p4: { untagged: 20 } }";

describe("L3: the port VLAN, IEEE 802.1Q YANG module, RFC 4363 dot1qPvid (default 1)", () => {
  it("is 1 on a switch and on ports of which nothing is said: untagged frames enter VLAN 1", () => {
    const silent = new Bench("");
    expect(silent.send("p1")).toBe("p2, p3, p4");
    const unlisted = new Bench("ports: { p3: { tagged: [1, 10] }, p4: { tagged: [10] } }");
    expect(unlisted.send("p1")).toBe("p2, p3 tagged 1 priority 0");
  });

  it("is that of untagged frames and of those that bear but a priority (VLAN 0), which they keep", () => {
    const bench = new Bench(MEMBERS);
    expect(bench.send("p1")).toBe("p2, p3 tagged 10 priority 0");
    expect(bench.send("p1", { tag: [0, 5] })).toBe("p2, p3 tagged 10 priority 5");
    expect(bench.send("p4", { tag: [0, 5] })).toBe("p3 tagged 20 priority 5");
  });
});

describe("L4: kinds of frames, RFC 4363 dot1qPortAcceptableFrameTypes", () => {
  const admitting = (admit: string): Bench =>
    new Bench(`ports: { p1: { untagged: 10, tagged: [20] ${admit} }, p2: { tagged: [10, 20] }, p3..4: off }`);

  it("admitAll(1) by default: untagged, priority-tagged and tagged", () => {
    const bench = admitting("");
    expect([bench.send("p1"), bench.send("p1", { tag: [0, 3] }), bench.send("p1", { tag: [20, 0] })]).toEqual([
      "p2 tagged 10 priority 0",
      "p2 tagged 10 priority 3",
      "p2 tagged 20 priority 0",
    ]);
  });

  it("admitOnlyVlanTagged(2) discards untagged and priority-tagged ones", () => {
    const bench = admitting(", admit: tagged");
    expect([bench.send("p1"), bench.send("p1", { tag: [0, 3] }), bench.send("p1", { tag: [20, 0] })]).toEqual([
      "",
      "",
      "p2 tagged 20 priority 0",
    ]);
  });

  it("it has no say over spanning-tree frames, which carry no VLAN", () => {
    const topology = `devices: { a: { is: switch, ports: { p1..2: 1G } }, b: { is: switch, ports: { p1..2: 1G } } }
cables: [[a:p1, b:p1], [a:p2, b:p2]]`;
    const only = "switching: { ports: { p1..2: { tagged: [20], admit: tagged } }, spanning-tree: on }";
    const network = networkOf(topology, `devices: { a: { profile: rfc, ${only} }, b: { profile: rfc, ${only} } }`);
    // Were they discarded, neither would hear the other and both cables would forward: a storm.
    const settled = settle(network);
    expect([settled.blocked.length, settled.storms]).toEqual([1, []]);
  });
});

describe("L5: ingress filtering, IEEE 802.1Q section 8.6.2, RFC 4363 dot1qPortIngressFiltering", () => {
  it("is off by default: a tag that the port is no member of is accepted", () => {
    expect(new Bench(MEMBERS).send("p1", { tag: [20, 0] })).toBe("p3 tagged 20 priority 0, p4");
  });

  it("on, it discards them", () => {
    const bench = new Bench(MEMBERS.replace("p1: { untagged: 10 }", "p1: { untagged: 10, filter-ingress: on }"));
    expect(bench.send("p1", { tag: [20, 0] })).toBe("");
    expect(bench.send("p1", { tag: [10, 0] })).toBe("p2, p3 tagged 10 priority 0");
  });
});

describe("L6: ageing, IEEE 802.1Q-2018 section 8.8.3, RFC 4188 dot1dTpAgingTime", () => {
  it("is 300 s by default: at 299 s a known station is sent to, at 301 s looked for everywhere", () => {
    const comesOut = (seconds: number): string => {
      const bench = new Bench("");
      bench.send("p2", { from: Y });
      bench.wait(seconds);
      return bench.send("p1", { to: Y });
    };
    expect([comesOut(299), comesOut(301)]).toEqual(["p2", "p2, p3, p4"]);
  });

  it("counts from the last time the station was heard", () => {
    const bench = new Bench("");
    for (let heard = 0; heard < 3; heard++) {
      bench.send("p2", { from: Y });
      bench.wait(200);
    }
    expect(bench.send("p1", { to: Y })).toBe("p2");
  });

  it("may be 10 to 1 000 000 s (RFC 4188)", () => {
    const isGood = (seconds: number): boolean =>
      load(`dryrack: intent/1\ndevices: { sw: { switching: { ports: { p1: off }, ageing: ${seconds}s } } }`).diagnostics
        .length === 0;
    expect([9, 10, 1_000_000, 1_000_001].map(isGood)).toEqual([false, true, true, false]);
  });
});

describe("L7: IEEE 802.1Q YANG module", () => {
  it("learns each VLAN by itself (IVL): one address may sit on two ports in two VLANs", () => {
    const bench = new Bench(MEMBERS);
    bench.send("p2", { from: Y });
    bench.send("p4", { from: Y });
    expect(bench.send("p3", { to: Y, tag: [10, 0] })).toBe("p2");
    expect(bench.send("p3", { to: Y, tag: [20, 0] })).toBe("p4");
  });

  it("gives untagged frames priority 0", () => {
    expect(new Bench(MEMBERS).send("p4")).toBe("p3 tagged 20 priority 0");
  });
});

describe("L8: reserved group addresses, IEEE 802.1Q section 8.6.3 (802.1AX types YANG module)", () => {
  it.each([
    ["nearest customer bridge, spanning tree", 0x0180_c200_0000n],
    ["slow protocols, LACP", 0x0180_c200_0002n],
    ["nearest non-TPMR bridge", 0x0180_c200_0003n],
    ["nearest bridge, LLDP", 0x0180_c200_000en],
  ])("%s: a bridge that runs a tree forwards none", (_, to) => {
    const bench = new Bench("ports: { p1..4: { untagged: 10 } }, spanning-tree: on");
    expect(bench.send("p1", { to })).toBe("");
  });

  it("the next address after the sixteen is forwarded like any group", () => {
    const bench = new Bench("ports: { p1..4: { untagged: 10 } }, spanning-tree: on");
    expect(bench.send("p1", { to: 0x0180_c200_0010n })).toBe("p2, p3, p4");
  });
});
