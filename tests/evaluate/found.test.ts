/**
 * What random sites (`tests/property/two-engines-sites.test.ts`) once found the engines to disagree about, each made as
 * small as it goes.
 */
import { describe, expect, it } from "vitest";
import { addressKey, isLinkLocal, keyAddress, single } from "../../src/address/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import type { FateClass } from "../../src/network/index.ts";
import type { Proof, Question } from "../../src/prove/index.ts";
import { tellPicks } from "../../src/result/index.ts";
import { networkOf } from "../support/site.ts";
import { originIn, provedAt } from "./proved.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l1: 1G, l2: 1G } }
  u2: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G, p3: 1G } }
  h1: { is: host, ports: { a1: 1G } }
  h2: { is: host, ports: { a2: 1G } }
cables:
  - [r1:l1, h1:a1]
  - [r1:l2, u2:p1]
  - [h2:a2, u2:p2]
`;

const NETWORKS = `dryrack: intent/1
networks:
  n1: { vlan: 10, ipv4: 10.0.1.0/24 }
  n2: { vlan: 20, ipv4: 10.0.2.0/24 }
devices:
`;

const ROUTER = "interfaces: { n1: { port: l1, network: n1, host: 1 }, n2: { port: l2, network: n2, host: 1 } }";
const INNER = "{ a1: { network: n1, host: 11, gateway: 10.0.1.1 } }";
const OUTER = "{ a2: { network: n2, host: 12, gateway: 10.0.2.1 } }";

/** Anything from the free port of the switch to a device; throws where an example does not end as told. */
function proved(to: string, devices: string, topology: string = TOPOLOGY): Proof {
  return provedAt(networkOf(topology, NETWORKS + devices), { to, entrance: "u2:p3" });
}

/** How many packets come before each example of what reaches. */
const earlier = ({ reached }: Proof): readonly number[] => reached.map((each) => each.before.length);

/** What is stopped that needs so many packets before it. */
const needing = ({ stopped }: Proof, count: number): readonly unknown[] =>
  stopped.filter((each) => each.before.length === count);

describe("what random sites found", () => {
  it("an ICMP error that several trackers let in is about one packet, which all of them know", () => {
    const proof = proved(
      "h1",
      `  r1:
    ${ROUTER}
    filter: { through: { otherwise: accept, rules: [{ name: all, state: new, action: accept }] } }
  h1:
    legs: ${INNER}
    filter: { to: { otherwise: drop, rules: [{ name: errors, state: related, action: accept }, { name: pings, source: 10.0.2.64/29, service: icmp/echo-request, action: accept }] } }
  h2:
    legs: ${OUTER}
`,
    );
    expect(earlier(proof)).toContain(1);
  });

  it("what comes in by a mapping begins a connection of its own, which asks for its source too", () => {
    const proof = proved(
      "h2",
      `  r1:
    profile: rfc
    ${ROUTER}
    translate: { source: [{ name: hide, out: n2, to: external-address }], dest: [{ name: forward, in: n2, service: udp/53, dest: 10.0.1.1, to: 10.0.1.11 }] }
  h1:
    legs: ${INNER}
  h2:
    legs: ${OUTER}
`,
    );
    expect(proof.stopped.length).toBeGreaterThan(0);
  });

  it("a connection that began by a mapping has answers too, which its sender can forge", () => {
    const proof = proved(
      "h1",
      `  r1:
    profile: rfc
    ${ROUTER}
    filter:
      through:
        otherwise: drop
        rules:
          - { name: answers, state: established, action: accept }
          - { name: one speaks out, source: 10.0.2.50, dest: 10.0.1.99, action: accept }
          - { name: one is spoken to, dest: 10.0.2.50, action: accept }
    translate:
      source: [{ name: hide, out: n1, to: external-address }]
      dest: [{ name: divert, dest: 10.0.2.50, to: 10.0.2.77 }]
  h1:
    legs: ${INNER}
  h2:
    legs: ${OUTER}
`,
    );
    expect(earlier(proof)).toContain(2);
  });

  it("a neighbour is known for having asked only where it sends to whoever it asked without a gateway", () => {
    const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l1: 1G, l2: 1G } }
  r2: { is: router, ports: { l1: 1G, l2: 1G } }
  u2: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G, p3: 1G } }
cables: [[r1:l1, r2:l2], [r1:l2, u2:p1]]
`;
    const proof = proved(
      "r2",
      `  r1:
    ${ROUTER}
  r2:
    interfaces: { n1: { port: l1, network: n1, host: 2 }, n2: { port: l2, network: n2, host: 2 } }
    reverse-path: strict
`,
      topology,
    );
    expect(earlier(proof)).not.toContain(1);
  });

  it("of two routers with one anycast address either may answer first, which its example says", () => {
    const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l2: 1G } }
  r2: { is: router, ports: { l2: 1G } }
  u2: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G, p3: 1G } }
  h2: { is: host, ports: { a2: 1G } }
cables: [[r1:l2, u2:p1], [r2:l2, u2:p2], [h2:a2, u2:p3]]
`;
    const intent = `dryrack: intent/1
networks: { n2: { ipv6: "fd00:0:0:2::/64" } }
devices:
  r1: { interfaces: { n2: { port: l2, network: n2, host: 1 } } }
  r2: { interfaces: { n2: { port: l2, network: n2, host: 2 } } }
  h2: { legs: { a2: { network: n2, host: 12, gateway: none } } }
`;
    const network = networkOf(topology, intent);
    const evaluation = new Evaluation(network);
    const [world] = evaluation.worlds().worlds;
    const begins = network.groups.find(({ id }) => id === "h2")?.begins ?? [];
    if (world === undefined) throw new Error("no world");
    const target = {
      addresses: single(addressKey({ family: 6, value: 0xfd00_0000_0000_0002n << 64n })),
      interfaces: [],
    };
    const { reached } = evaluation.prove(world, {
      entrances: [],
      senders: begins,
      packets: [[]],
      target: { ...target, segments: [], upstreams: [], stacks: [] },
    });
    expect(reached.map(({ picks }) => tellPicks(picks)).sort()).toEqual([
      "r1 answers h2/a2 first",
      "r2 answers h2/a2 first",
    ]);
  });

  it("an error about an answer of SCTP quotes its ports turned round", () => {
    const proof = proved(
      "h1",
      `  r1:
    ${ROUTER}
  h1:
    legs: ${INNER}
    filter: { to: { otherwise: drop, rules: [{ name: answers, state: related, action: accept }, { name: data, service: sctp/22, action: accept }] } }
  h2:
    legs: ${OUTER}
`,
    );
    expect(earlier(proof)).toContain(1);
  });

  it("to an address of a link a translator speaks from its own address of that link", () => {
    const six = NETWORKS.replace("10.0.1.0/24", '10.0.1.0/24, ipv6: "fd00:0:0:1::/64"').replace(
      "10.0.2.0/24",
      '10.0.2.0/24, ipv6: "fd00:0:0:2::/64"',
    );
    const intent = `${six}  r1:
    ${ROUTER}
    filter: { to: { otherwise: drop, rules: [] }, through: { otherwise: accept } }
    translate: { source: [{ name: hide, family: ipv6, out: n2, to: external-address }] }
  h1:
    legs: ${INNER}
  h2:
    legs: { a2: { network: n2, host: 12, gateway: [10.0.2.1, "fd00:0:0:2::1"] } }
`;
    const proof = provedAt(networkOf(TOPOLOGY, intent), { to: "h2", entrance: "u2:p3" });
    expect(proof.stopped.length).toBeGreaterThan(0);
  });

  it("what comes in by a mapping can begin a connection: an answer that nobody asked for cannot", () => {
    const intent = `${NETWORKS}  r1:
    profile: rfc
    ${ROUTER}
    filter: { through: { otherwise: accept, rules: [{ name: out, source: n2, action: accept }, { name: no, service: tcp, action: drop }] } }
    translate: { source: [{ name: hide, out: n2, to: external-address }] }
  h1:
    legs: ${INNER}
  h2:
    legs: ${OUTER}
`;
    const network = networkOf(TOPOLOGY, intent);
    const origin = originIn(network);
    const tcp = [[{ field: "protocol", within: single(6n), origin }]] as const;
    const proof = provedAt(network, { to: "h1", entrance: "u2:p3", packets: () => tcp });
    expect(proof.stopped.length).toBeGreaterThan(0);
  });

  it("a translator that must draw a port draws the one that its example says", () => {
    const { reached } = proved(
      "h1",
      `  r1:
    ${ROUTER}
    filter:
      through: { otherwise: drop, rules: [{ name: low, source-port: 2000-3000, action: accept }] }
    translate: { source: [{ name: hide, out: n1, to: external-address }] }
  h1:
    legs: ${INNER}
    filter: { to: { otherwise: drop, rules: [{ name: one port, source-port: 40000, action: accept }] } }
  h2:
    legs: ${OUTER}
`,
    );
    expect(reached.map(({ picks }) => tellPicks(picks))).toEqual(["r1 draws port 40000"]);
  });

  it("a station of another network is known for asking an address of the link, for its gateway it asks in vain", () => {
    const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { t: 1G } }
  s1: { is: switch, ports: { p1: 1G, p2: 1G } }
  h2: { is: host, ports: { a2: 1G } }
cables: [[r1:t, s1:p1], [h2:a2, s1:p2]]
`;
    const intent = `dryrack: intent/1
networks:
  n1: { vlan: 10, ipv6: "fd00:0:0:1::/64" }
  n2: { ipv6: "fd00:0:0:2::/64" }
  n3: { ipv6: "fd00:0:0:3::/64" }
devices:
  s1: { switching: { ports: { p1: { tagged: [n1] }, p2: { untagged: n1 } } } }
  r1: { interfaces: { n1: { port: t, tag: 10, network: n1, host: 1 }, n2: { port: t, network: n2, host: 1 } } }
  h2:
    legs: { a2: { network: n3, host: 12, gateway: "fd00:0:0:3::1" } }
    filter: { to: { otherwise: drop, rules: [] } }
`;
    const proof = provedAt(networkOf(topology, intent), { to: "n2", entrance: "s1:p2" });
    expect(needing(proof, 1).length).toBeGreaterThan(0);
  });

  it("what one earlier packet begins at another tracker is no stranger there", () => {
    const topology = `dryrack: topology/1
devices:
  s1: { is: switch, ports: { p1: 1G, p2: 1G, p3: 1G, p4: 1G } }
  r1: { is: router, ports: { t: 1G } }
  r2: { is: router, ports: { t: 1G } }
  r3: { is: router, ports: { t: 1G } }
cables: [[r1:t, s1:p1], [r2:t, s1:p2], [r3:t, s1:p3]]
`;
    const intent = `dryrack: intent/1
networks:
  n1: { vlan: 10, ipv4: 10.0.1.0/24 }
  n2: { vlan: 20, ipv4: 10.0.2.0/24 }
  n3: { vlan: 30, ipv4: 10.0.3.0/24 }
devices:
  s1:
    profile: rfc
    switching: { ports: { p1: { tagged: [n1, n2] }, p2: { tagged: [n2, n3] }, p3: { tagged: [n3] } } }
  r1:
    interfaces: { n1: { port: t, network: n1, host: 1 }, n2: { port: t, tag: 20, network: n2, host: 1 } }
    filter: { to: { otherwise: drop } }
    translate: { source: [{ name: hide, to: external-address }] }
  r2:
    interfaces: { n2: { port: t, tag: 20, network: n2, host: 2 }, n3: { port: t, tag: 30, network: n3, host: 2 } }
    routes: [{ to: default, via: 10.0.2.1 }]
  r3:
    interfaces: { n3: { port: t, tag: 30, network: n3, host: 3 } }
    routes: [{ to: 10.0.1.0/24, via: 10.0.3.2 }]
    translate: { source: [{ name: hide, to: external-address }] }
`;
    expect(() => provedAt(networkOf(topology, intent), { to: "r3", entrance: "s1:p4" })).not.toThrow();
  });

  it("a connection and its answer go by the same one of two neighbours", () => {
    const topology = `dryrack: topology/1
devices:
  u3: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G, p3: 1G } }
  u4: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G } }
  r2: { is: router, ports: { l2: 1G, l3: 1G } }
  r3: { is: router, ports: { l3: 1G, l4: 1G } }
cables: [[r2:l2, u3:p1], [r2:l3, u3:p2], [r3:l3, u3:p3], [r3:l4, u4:p1]]
`;
    const intent = `dryrack: intent/1
networks: { n1: { ipv4: 10.0.1.0/24 }, n2: { ipv4: 10.0.2.0/24 }, n3: { ipv4: 10.0.3.0/24 } }
devices:
  r2:
    interfaces: { n2: { port: l2, network: n2, host: 2 }, n3: { port: l3, network: n3, host: 2 } }
    routes: [{ to: 10.0.1.0/24, via: 10.0.2.1 }]
    filter:
      through:
        otherwise: drop
        rules:
          - { name: answers, state: established, action: accept }
          - { name: one way in, in: n3, action: reject }
          - { name: the other, action: accept }
  r3:
    interfaces: { n3: { port: l3, network: n3, host: 3 }, n4: { port: l4 } }
    routes: [{ to: 10.0.1.0/24, via: 10.0.3.2 }]
  h1: { legs: { a1: { network: n1, host: 10, gateway: none } } }
`;
    const whole = topology.replace("  r2:", "  h1: { is: host, ports: { a1: 1G } }\n  r2:");
    expect(() => provedAt(networkOf(whole, intent), { to: "h1", entrance: "u4:p2" })).not.toThrow();
  });

  it("what answers a connection is there before the reset of a rule that ends it", () => {
    const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l1: 1G, l2: 1G } }
  r2: { is: router, ports: { l2: 1G } }
  u2: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G, p3: 1G } }
cables: [[r1:l2, u2:p1], [r2:l2, u2:p2]]
`;
    const intent = `${NETWORKS}  r1:
    ${ROUTER}
    filter: { through: { otherwise: accept, rules: [{ name: none, action: reject, with: tcp-reset }] } }
  r2:
    interfaces: { n2: { port: l2, network: n2, host: 2 } }
    routes: [{ to: default, via: 10.0.2.1 }]
    translate: { source: [{ name: hide, to: external-address }] }
`;
    const proof = provedAt(networkOf(topology, intent), { to: "n1", entrance: "u2:p3" });
    const resets = proof.stopped.filter(({ fate }) => fate.end === "refused" && fate.icmp === undefined);
    expect(resets.map(({ before }) => before.length).sort()).toEqual([0, 1]);
  });

  it("a host turned back inside shows its outside endpoint to others by a connection of its own", () => {
    const intent = `${NETWORKS}  r1:
    profile: rfc
    ${ROUTER}
    translate: { source: [{ name: hide, to: external-address }] }
  h2:
    legs: ${OUTER}
`;
    const proof = provedAt(networkOf(TOPOLOGY, intent), { to: "h2", entrance: "u2:p3" });
    expect(Math.max(...earlier(proof))).toBeGreaterThan(0);
  });

  it("a destination that a rule leaves as it was is not turned back", () => {
    const proof = proved(
      "h1",
      `  r1:
    profile: rfc
    ${ROUTER}
    translate: { source: [{ name: hide, out: n2, to: external-address }], dest: [{ name: forward, in: n2, service: tcp/443, to: 10.0.1.11 }] }
  h1:
    legs: ${INNER}
  h2:
    legs: ${OUTER}
`,
    );
    expect(proof.reached.length).toBeGreaterThan(0);
  });

  it("the reset of a rule begins no connection that errors could belong to", () => {
    const proof = proved(
      "h1",
      `  r1:
    ${ROUTER}
    filter: { to: { otherwise: drop }, through: { otherwise: drop, rules: [{ name: errors, state: related, action: accept }, { name: all, action: reject, with: tcp-reset }] } }
  h1:
    legs: ${INNER}
  h2:
    legs: ${OUTER}
`,
    );
    expect(proof.reached).toEqual([]);
  });

  it("what comes round behind the same address without a port ends, and is no loop", () => {
    const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l1: 1G, l2: 1G } }
  r2: { is: router, ports: { l2: 1G } }
  u2: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G } }
  h1: { is: host, ports: { a1: 1G } }
cables: [[r1:l1, h1:a1], [r1:l2, u2:p1], [r2:l2, u2:p2]]
`;
    const intent = `${NETWORKS}  r1:
    interfaces: { n1: { port: l1, network: n1, host: 1 }, n2: { port: l2, network: n2, host: 1 } }
    routes: [{ to: 10.0.9.0/24, via: 10.0.2.2 }]
    translate: { source: [{ name: hide, out: n2, to: 10.0.2.99 }] }
  r2:
    interfaces: { n2: { port: l2, network: n2, host: 2 } }
    routes: [{ to: 10.0.9.0/24, via: 10.0.2.1 }]
  h1:
    legs: ${INNER}
`;
    const network = networkOf(topology, intent);
    const origin = originIn(network);
    const far = addressKey({ family: 4, value: 0x0a000905n });
    const others = [[{ field: "protocol", within: single(47n), origin }]] as const;
    const evaluation = new Evaluation(network);
    const [world] = evaluation.worlds().worlds;
    if (world === undefined) throw new Error("no world");
    const ends = (packets: Question["packets"]): readonly string[] => {
      const target = { addresses: single(far), interfaces: [], stacks: [], segments: [], upstreams: [] };
      const { stopped } = evaluation.prove(world, { entrances: ["r1:l1"], senders: [], packets, target });
      return stopped.map(({ fate }) => ("reason" in fate ? fate.reason : fate.end));
    };
    expect(ends(others)).toContain("no-free-port");
    expect(ends([[{ field: "protocol", within: single(17n), origin }]])).not.toContain("no-free-port");
  });

  it("what comes round to the address that it was forwarded to ends where no port tells the rounds apart", () => {
    const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l2: 1G } }
  r2: { is: router, ports: { l2: 1G } }
  u2: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G, p3: 1G } }
cables: [[r1:l2, u2:p1], [r2:l2, u2:p2]]
`;
    const looping = (profile: string, protocol: bigint): readonly string[] => {
      const intent = `${NETWORKS}  r1:
    profile: ${profile}
    interfaces: { n2: { port: l2, network: n2, host: 1 } }
    routes: [{ to: 10.0.1.0/24, via: 10.0.2.2 }]
    translate: { source: [{ name: keep, to: unchanged }], dest: [{ name: forward, dest: 10.0.2.1, to: 10.0.1.11 }] }
  r2:
    interfaces: { n2: { port: l2, network: n2, host: 2 } }
    routes: [{ to: 10.0.1.0/24, via: 10.0.2.1 }]
`;
      const network = networkOf(topology, intent);
      const origin = originIn(network);
      const packets = [[{ field: "protocol", within: single(protocol), origin }]] as const;
      const { stopped } = provedAt(network, { to: "r1", entrance: "u2:p3", packets: () => packets });
      return stopped.map(({ fate }) => ("reason" in fate ? fate.reason : fate.end));
    };
    expect(looping("linux", 47n)).toContain("no-free-port");
    expect(looping("rfc", 6n)).toContain("no-free-port");
    expect(looping("linux", 6n)).toContain("looped");
  });

  it("a router that sends a packet back knows who sent it, by what that asked", () => {
    const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l2: 1G } }
  r2: { is: router, ports: { l2: 1G, l3: 1G } }
  u2: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G } }
  h3: { is: host, ports: { a3: 1G } }
cables: [[r1:l2, u2:p1], [r2:l2, u2:p2], [r2:l3, h3:a3]]
`;
    const intent = `dryrack: intent/1
networks: { n2: { ipv4: 10.0.2.0/24 }, n3: { ipv4: 10.0.3.0/24 } }
devices:
  r1:
    interfaces: { n2: { port: l2, network: n2, host: 1 } }
    routes: [{ to: 10.0.3.0/24, via: 10.0.2.2 }]
  r2:
    interfaces: { n2: { port: l2, network: n2, host: 2 }, n3: { port: l3, network: n3, host: 2 } }
    routes: [{ to: 10.0.2.0/25, action: prohibit }, { to: 10.0.3.0/25, via: 10.0.2.1 }]
    reverse-path: strict
  h3: { legs: { a3: { network: n3, host: 12, gateway: none } } }
`;
    const network = networkOf(topology, intent);
    const evaluation = new Evaluation(network);
    const [world] = evaluation.worlds().worlds;
    const [from, to] = ["r2", "n3"].map((id) => network.groups.find((group) => group.id === id));
    if (world === undefined || from === undefined || to === undefined) throw new Error("no world, or no groups");
    const { addresses, interfaces, segments, upstreams } = to;
    const target = { addresses, interfaces, segments, upstreams, stacks: [] };
    const { stopped } = evaluation.prove(world, { entrances: [], senders: from.begins, packets: [[]], target });
    expect(stopped.length).toBeGreaterThan(0);
    expect(
      stopped.some(({ fate }) => "reason" in fate && fate.reason === "no-neighbour" && fate.at === "r1/stack"),
    ).toBe(false);
  });

  it("a question for a neighbour leaves a bond as the packets do that wait for it; by another member than they, nobody knows", () => {
    const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l0: 1G, l1: 1G, l2: 1G, l3: 1G } }
  u0: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G } }
  u1: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G } }
  h2: { is: host, ports: { a2: 1G } }
cables: [[r1:l0, u0:p1], [r1:l1, h2:a2], [r1:l2, u1:p1], [r1:l3, u1:p2]]
`;
    const intent = `dryrack: intent/1
networks: { n0: { ipv4: 10.0.0.0/24 }, n1: { vlan: 10, ipv4: 10.0.1.0/24 }, n2: { vlan: 20, ipv4: 10.0.2.0/24 } }
devices:
  r1:
    bonds: { pair: { members: [l1, l2], mode: static } }
    switching: { tags: obeyed, ports: { pair: { untagged: n2 }, l3: { untagged: n1 } }, own: { tagged: [n1, n2] } }
    interfaces: { n0: { port: l0, network: n0, host: 1 }, n1: { network: n1, host: 1 }, n2: { network: n2, host: 1 } }
    filter: { to: { otherwise: drop }, through: { otherwise: drop, rules: [{ name: one, dest: DEST, action: accept }] } }
  h2: { legs: { a2: { network: n2, host: 12, gateway: 10.0.2.1 } } }
`;
    const to = (dest: string): Proof =>
      provedAt(networkOf(topology, intent.replace("DEST", dest)), { to: "n1", entrance: "u0:p2" });
    const [asked, unowned] = [to("10.0.2.12"), to("10.0.2.99")];
    expect(asked.reached).toEqual([]);
    expect(asked.undecided).toMatchObject({ note: expect.stringMatching(/^which member of a bond .* question/) });
    // Nobody has the other address: its packets are never sent.
    expect(unowned.reached).toEqual([]);
    expect(unowned.undecided).toBeUndefined();
    expect(unowned.stopped.map(({ fate }) => "reason" in fate && fate.reason)).toContain("no-neighbour");
  });

  it("who is asked over a bond answers by one of its members, which its example says", () => {
    const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l1: 1G, l2: 1G } }
  u1: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G } }
  u2: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G } }
  s2: { is: switch, ports: { p1: 1G, p2: 1G, p3: 1G } }
  h2: { is: host, ports: { a2: 1G } }
  h3: { is: host, ports: { a3: 1G } }
cables: [[r1:l1, u1:p1], [r1:l2, s2:p1], [s2:p2, u2:p1], [s2:p3, h2:a2], [u2:p2, h3:a3]]
`;
    const intent = `dryrack: intent/1
networks: { n1: { ipv4: 10.0.1.0/24 }, n2: { ipv4: 10.0.2.0/24 } }
devices:
  r1: { interfaces: { n1: { port: l1, network: n1, host: 1 }, n2: { port: l2, network: n2, host: 1 } } }
  s2:
    bonds: { pair: { members: [p1, p2], mode: static } }
    switching: { tags: ignored, ports: { pair: {}, p3: {} } }
  h2: { legs: { a2: { network: n2, host: HOST, gateway: 10.0.2.1 } } }
  h3: { legs: { a3: { network: n2, host: 2, gateway: 10.0.2.1 } } }
`;
    const told = Array.from({ length: 4 }, (_, at) =>
      provedAt(networkOf(topology, intent.replace("HOST", `${12 + at}`)), { to: "h2", entrance: "u1:p2" }),
    ).flatMap(({ reached }) => reached.map(({ picks }) => tellPicks(picks)));
    expect(new Set(told)).toEqual(new Set(["s2:pair sends by s2:p1"]));
  });

  it("a sender that tries first has its port, and is let through once the answers are open", () => {
    const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l1: 1G, l2: 1G } }
  r2: { is: router, ports: { l2: 1G, l3: 1G, l4: 1G } }
  s1: { is: switch, ports: { p1: 1G, p2: 1G, p3: 1G } }
  h4: { is: host, ports: { a4: 1G } }
cables: [[r1:l1, s1:p1], [r1:l2, r2:l2], [r2:l3, s1:p2], [r2:l4, h4:a4]]
`;
    const intent = `${NETWORKS.replace("devices:", "  n3: { vlan: 30, ipv4: 10.0.3.0/24 }\n  n4: { ipv4: 10.0.4.0/24 }\ndevices:")}  s1:
    switching: { ports: { p1: { untagged: n1 }, p2: { untagged: n3 }, p3: { tagged: [n1, n3] } } }
  r1:
    ${ROUTER}
    routes: [{ to: 10.0.4.0/24, via: 10.0.2.2 }]
    filter: { through: { otherwise: drop, rules: [{ name: out, in: n1, source: n1, state: [new, established], action: accept }] } }
    translate: { source: [{ name: hide, out: n2, to: external-address }] }
  r2:
    interfaces: { n2: { port: l2, network: n2, host: 2 }, n3: { port: l3, network: n3, host: 2 }, n4: { port: l4, network: n4, host: 2 } }
    filter: { through: { otherwise: drop, rules: [{ name: answers, in: n2, state: established, action: accept }, { name: out, in: n3, out: n2, action: accept }] } }
  h4:
    legs: { a4: { network: n4, host: 11, gateway: 10.0.4.2 } }
`;
    // What opens the answers goes to the translator itself, and takes the port that it would keep.
    const { reached } = provedAt(networkOf(topology, intent), { to: "h4", entrance: "s1:p3" });
    expect(reached.length).toBeGreaterThan(0);
    for (const { before, witness } of reached) expect([before.length, before[0]?.witness]).toEqual([2, witness]);
  });

  it("what comes by a mapping is not shown from the outside address of that one where there are no ports", () => {
    const ending = (rule: string, protocol: bigint): readonly unknown[] => {
      const network = networkOf(
        TOPOLOGY,
        `${NETWORKS}  r1:
    profile: rfc
    ${ROUTER}
    translate: { source: [{ ${rule}, to: external-address }] }
  h2:
    legs: ${OUTER}
`,
      );
      const origin = originIn(network);
      const packets = [[{ field: "protocol", within: single(protocol), origin }]] as const;
      const { stopped } = provedAt(network, { to: "h2", entrance: "u2:p3", packets: () => packets });
      return stopped.filter(({ before }) => before.length > 0).map(({ fate }) => "reason" in fate && fate.reason);
    };
    for (const rule of ["name: hide", "name: hide, out: n1"]) {
      expect(ending(rule, 47n)).toContain("no-free-port");
      expect(ending(rule, 17n)).not.toContain("no-free-port");
    }
  });

  it.each(["strict", "loose"])(
    "a route by the link comes before one that refuses where it is sent to an address of the link (%s)",
    (mode) => {
      const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l1: 1G } }
  h1: { is: host, ports: { a1: 1G } }
cables: [[r1:l1, h1:a1]]
`;
      const intent = `dryrack: intent/1
devices:
  r1: { interfaces: { l1: { port: l1, ipv6: "fd00:1::1/64" } } }
  h1:
    legs: { a1: { ipv6: "fd00:1::2/64" } }
    routes: [{ to: "fd00:2::/64", via: "fd00:1::1", metric: 500 }, { to: "fd00:2::/64", action: unreachable, metric: 1 }]
    reverse-path: ${mode}
`;
      const network = networkOf(topology, intent);
      const origin = originIn(network);
      const within = single(addressKey({ family: 6, value: (0xfd00_0002n << 96n) | 9n }));
      const from = [[{ field: "source", within, origin }]] as const;
      const { reached, stopped } = provedAt(network, { to: "h1", entrance: "h1:a1", packets: () => from });
      const destinations = reached.map(({ witness }) => new Map(witness.numbers).get("destination") ?? 0n);
      expect(destinations.map((key) => isLinkLocal(keyAddress(key)))).toEqual([true]);
      expect(stopped.some(({ fate }) => "reason" in fate && fate.reason === "reverse-path")).toBe(true);
    },
  );

  it("an example waits where its first packet would take the port that it needs itself, and is in nobody's way once forgotten", () => {
    const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l2: 1G } }
  s1: { is: switch, ports: { p2: 1G, p3: 1G, p5: 1G } }
  r2: { is: router, ports: { t: 1G } }
  h3: { is: host, ports: { a3: 1G } }
cables: [[r1:l2, s1:p2], [r2:t, s1:p3]]
`;
    const intent = `dryrack: intent/1
networks: { n2: { vlan: 20, ipv4: 10.0.2.0/24 }, n3: { ipv4: 10.0.3.0/24 } }
devices:
  s1: { switching: { ports: { p2: { untagged: n2 }, p3: { tagged: [n2] }, p5: { untagged: n2 } } } }
  r1:
    interfaces: { n2: { port: l2, network: n2, host: 1 } }
    translate: { source: [{ name: hide, to: external-address }] }
  r2:
    switching: { ports: { t: { tagged: [n2] } }, own: { tagged: [n2] } }
    interfaces: { n2: { network: n2, host: 2 } }
    translate: { source: [{ name: hide, to: external-address }] }
  h3:
    legs: { a3: { network: n3, host: 11 } }
    filter: { to: { otherwise: accept, rules: [{ name: from, source-port: 40000, action: accept }] } }
`;
    const { stopped } = provedAt(networkOf(topology, intent), { to: "h3", entrance: "s1:p5" });
    const waits = stopped.flatMap((each) => (each.waits === undefined ? [] : [each]));
    expect(waits.map(({ fate }) => [fate.at, "reason" in fate && fate.reason])).toContainEqual([
      "r1/stack",
      "own-source",
    ]);
    // Connections without an answer are forgotten after 30 s; a copy that ends at the first router keeps its one alive.
    for (const { before, waits: last } of waits) {
      expect([...before.map((each) => each.waits), last]).toEqual([undefined, 25, 25]);
      expect(before.map(({ witness }) => new Map(witness.numbers).get("hopLimit"))).toEqual([64n, 1n]);
    }
  });

  it("what comes round just as it began has its translations already, and another one has its own", () => {
    const topology = `dryrack: topology/1
devices:
  r1: { is: router, ports: { l2: 1G } }
  r2: { is: router, ports: { l2: 1G, l3: 1G } }
  h3: { is: host, ports: { a3: 1G } }
cables: [[r1:l2, r2:l2], [r2:l3, h3:a3]]
`;
    const intent = `dryrack: intent/1
networks: { n2: { vlan: 20, ipv4: 10.0.2.0/24 }, n3: { vlan: 30, ipv4: 10.0.3.0/24 } }
devices:
  r1:
    interfaces: { n2: { port: l2, network: n2, host: 1 } }
    routes: [{ to: 10.0.4.0/24, via: 10.0.2.2 }]
  r2:
    interfaces: { n2: { port: l2, network: n2, host: 2 }, n3: { port: l3, network: n3, host: 2 } }
    routes: [{ to: default, via: 10.0.2.1 }]
    translate:
      source: [{ name: hide, out: n2, to: 10.0.2.9 }]
      dest: [{ name: forward, in: n2, dest: 10.0.4.3, to: 10.0.3.11 }]
  h3:
    legs: { a3: { network: n3, host: 11, gateway: 10.0.3.2 } }
`;
    const network = networkOf(topology, intent);
    const origin = originIn(network);
    const getting = (source: bigint, protocol: bigint): readonly string[] => {
      const key = addressKey({ family: 4, value: source });
      const destination = addressKey({ family: 4, value: 0x0a000403n });
      const packets = [
        [
          { field: "source", within: single(key), origin },
          { field: "destination", within: single(destination), origin },
          { field: "protocol", within: single(protocol), origin },
        ],
      ] as const;
      const { reached } = provedAt(network, { to: "h3", entrance: "r2:l3", packets: () => packets });
      return reached.flatMap(({ before, picks }) => (before.length === 0 ? [tellPicks(picks)] : []));
    };
    const [near, hidden] = [0x0a00030bn, 0x0a000209n];
    // Hidden behind another address it is another connection, which the rule forwards, with ports or without.
    expect(getting(near, 17n)).toEqual([""]);
    expect(getting(near, 47n)).toEqual([""]);
    // From that address itself it is one and the same, unless another one took its port before.
    expect(getting(hidden, 17n)).toEqual(["r2 draws port 40001"]);
    expect(getting(hidden, 47n)).toEqual([]);
  });

  it.each(["", "in: n1, "])(
    "what comes round because another router undid a translation is translated again (%s)",
    (where) => {
      const topology = `dryrack: topology/1
devices:
  s1: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G } }
  r1: { is: router, ports: { l1: 1G, l2: 1G, l3: 1G } }
  r2: { is: router, ports: { l2: 1G } }
  h3: { is: host, ports: { a3: 1G } }
cables: [[s1:p1, r1:l1], [r1:l2, r2:l2], [r1:l3, h3:a3]]
`;
      const intent = `dryrack: intent/1
networks: { n1: { vlan: 10, ipv4: 10.0.1.0/24 }, n2: { vlan: 20, ipv4: 10.0.2.0/24 }, n3: { vlan: 30, ipv4: 10.0.3.0/24 } }
devices:
  r1:
    interfaces: { n1: { port: l1, network: n1, host: 1 }, n2: { port: l2, network: n2, host: 1 }, n3: { port: l3, network: n3, host: 1 } }
    routes: [{ to: 10.0.5.0/24, via: 10.0.2.2 }]
    translate: { dest: [{ name: forward, ${where}dest: 10.0.3.11, to: 10.0.5.3 }] }
  r2:
    interfaces: { n2: { port: l2, network: n2, host: 2 } }
    routes: [{ to: default, via: 10.0.2.1 }]
    translate: { dest: [{ name: back, dest: 10.0.5.3, to: 10.0.3.11 }] }
  h3:
    legs: { a3: { network: n3, host: 11, gateway: 10.0.3.1 } }
`;
      const network = networkOf(topology, intent);
      const origin = originIn(network);
      const host = addressKey({ family: 4, value: 0x0a00030bn });
      // What belongs to no connection is not translated: so none of TCP, which may.
      const packets = [
        [
          { field: "destination", within: single(host), origin },
          { field: "protocol", within: single(17n), origin },
        ],
      ] as const;
      const { reached, stopped } = provedAt(network, { to: "h3", entrance: "s1:p2", packets: () => packets });
      expect(reached.filter(({ before }) => before.length === 0)).toEqual([]);
      expect(stopped.map(({ fate }) => `${fate.at} ${fate.end}`)).toContain("r2/stack looped");
    },
  );

  describe("what comes back to the first of two translators is about nothing there", () => {
    const topology = `dryrack: topology/1
devices:
  u1: { is: unmanaged-switch, ports: { p1: 1G, p2: 1G } }
  r1: { is: router, ports: { l1: 1G, l2: 1G } }
  r2: { is: router, ports: { l2: 1G, l3: 1G } }
  h3: { is: host, ports: { a3: 1G } }
cables: [[u1:p1, r1:l1], [r1:l2, r2:l2], [r2:l3, h3:a3]]
`;
    const intentHiding = (what: string): string => `dryrack: intent/1
networks: { n1: { vlan: 10, ipv4: 10.0.1.0/24 }, n2: { vlan: 20, ipv4: 10.0.2.0/24 }, n3: { vlan: 30, ipv4: 10.0.3.0/24 } }
devices:
  r1:
    interfaces: { n1: { port: l1, network: n1, host: 1 }, n2: { port: l2, network: n2, host: 1 } }
    routes: [{ to: 10.0.3.0/24, via: 10.0.2.2 }]
    host-model: strong
    translate: { source: [{ name: hide, out: n2, to: external-address }] }
  r2:
    interfaces: { n2: { port: l2, network: n2, host: 2 }, n3: { port: l3, network: n3, host: 2 } }
    routes: [{ to: 10.0.1.0/24, via: 10.0.2.1 }]
    translate: { source: [{ name: hide, ${what}out: n3, to: external-address }] }
  h3:
    legs: { a3: { network: n3, host: 11, gateway: 10.0.3.2 } }
`;
    // Nobody gets to that address from the other leg, and what belongs to a connection is sent back inside.
    const target = {
      addresses: single(addressKey({ family: 4, value: 0x0a000201n })),
      interfaces: ["r1/n2"],
      stacks: ["r1/stack"],
      segments: [],
      upstreams: [],
    };
    const question = { entrances: ["u1:p2"], senders: [], packets: [[]], target };
    const shown = (what: string): FateClass => {
      const evaluation = new Evaluation(networkOf(topology, intentHiding(what)));
      const [world] = evaluation.worlds().worlds;
      if (world === undefined) throw new Error("no world");
      const [reached, ...others] = evaluation.prove(world, question).reached;
      if (reached === undefined || others.length > 0) throw new Error("not one class");
      const { before, waits } = reached;
      expect(evaluation.smallest(world, question)).toMatchObject({ before, ...(waits === undefined ? {} : { waits }) });
      return reached;
    };

    it.each(["", "service: tcp/80, "])("once a reset got no further than to it (%s)", (what) => {
      const told = shown(what).before.map(({ witness }) => {
        const numbers = new Map<string, bigint>(witness.numbers);
        return ["protocol", "tcpFlags", "hopLimit"].map((field) => numbers.get(field));
      });
      expect(told).toEqual([
        [6n, 2n, 64n],
        [6n, 4n, 1n],
      ]);
    });

    it("once it forgot what an answer that gets to the second one alone kept alive there", () => {
      const { before, waits } = shown("service: icmp, ");
      expect([before.at(-1)?.waits, waits]).toEqual([25, 25]);
      expect(new Map(before.at(-1)?.witness.numbers).get("hopLimit")).toBe(2n);
    });
  });
});
