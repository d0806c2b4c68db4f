/**
 * A cable between two access ports of different VLANs joins both. What goes to the router itself is taken in by the router's bridge in the
 * first of them, and does not come back in the other one; what goes to everyone does. The simulator judges every example.
 */
import { describe, expect, it } from "vitest";
import { Evaluation, startOf, targetOf } from "../../src/evaluate/index.ts";
import type { Group, Network } from "../../src/network/index.ts";
import { networkOf } from "../support/site.ts";

function millWith(cable: string): Network {
  const topology = `
devices:
  road: { is: upstream, ports: { line: 1G } }
  gate: { is: router, ports: { wan: 1G, lan1..4: 1G } }
  loft: { is: switch, ports: { p1..8: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  loom: { is: host, ports: { nic: 1G } }
cables:
  - [road:line, gate:wan]
  - [gate:lan1, loft:p1]
  - [loft:p4, loom:nic]
  - [loft:p5, desk:nic]
  - ${cable}`;
  const intent = `
networks:
  office: { vlan: 10, ipv4: 10.61.10.0/24, ipv6: 2001:db8:61:10::/64 }
  looms: { vlan: 20, ipv4: 10.61.20.0/24, ipv6: 2001:db8:61:20::/64 }
  guests: { vlan: 40, ipv4: 10.61.40.0/24 }
devices:
  road: { hands-out: { line: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }
  gate:
    switching:
      unlisted: "off"
      ports:
        lan1: { tagged: [office, looms, guests], admit: tagged }
        lan2: { untagged: office, admit: untagged }
        lan3: { untagged: looms, admit: untagged }
        lan4: { untagged: guests, admit: untagged }
      own: { tagged: [office, looms, guests] }
    interfaces:
      wan: { port: wan, ipv4: lease }
      office: { network: office, host: 1 }
      looms: { network: looms, host: 1 }
      guests: { network: guests, host: 1 }
    filter:
      to:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: neighbours, service: [icmp6/neighbour-solicitation, icmp6/neighbour-advertisement], action: accept }
          - { name: office names, in: office, service: udp/53, action: accept }
          - { name: loom pages, in: looms, service: tcp/80, action: accept }
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: out, in: [office, guests], out: wan, action: accept }
          - { name: office sees looms, in: office, out: looms, action: accept }
    translate: { source: [ { name: one address, family: ipv4, out: wan, to: external-address } ] }
    reverse-path: strict
  loft:
    switching:
      tags: obeyed
      unlisted: "off"
      ports:
        p1: { tagged: [office, looms, guests], admit: tagged }
        p4: { untagged: looms, admit: untagged }
        p5: { untagged: office, admit: untagged }
        p6: { untagged: office, admit: untagged }
        p7: { untagged: guests, admit: untagged }
        p8: { untagged: looms, admit: untagged }
  loom: { legs: { nic: { network: looms, host: 5, gateway: 10.61.20.1 } } }
  desk: { legs: { nic: { network: office, host: 5, gateway: 10.61.10.1 } } }`;
  return networkOf(topology, intent);
}

const CABLES = [
  ["two of the router's VLANs over the switch", "[gate:lan2, loft:p8]"],
  ["the other way round", "[gate:lan3, loft:p6]"],
  ["a third one", "[gate:lan4, loft:p6]"],
  ["at the switch alone", "[loft:p7, loft:p8]"],
  ["at the router alone", "[gate:lan2, gate:lan3]"],
] as const;

/**
 * Guests hear their router by its looms alone, behind two cables: the router's questions get there, and the answers come in at its own
 * bridge before they come to the interface that asked.
 */
function farGuests(): Network {
  const topology = `
devices:
  gate: { is: router, ports: { trunk: 1G, lan1: 1G, lan2: 1G } }
  loft: { is: switch, ports: { p1..6: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  guest: { is: host, ports: { nic: 1G } }
cables:
  - [gate:trunk, loft:p1]
  - [gate:lan1, loft:p2]
  - [gate:lan2, loft:p3]
  - [desk:nic, loft:p4]
  - [guest:nic, loft:p5]`;
  const intent = `
networks:
  office: { vlan: 10, ipv4: 10.61.10.0/24, ipv6: 2001:db8:61:10::/64 }
  looms: { vlan: 20, ipv4: 10.61.20.0/24, ipv6: 2001:db8:61:20::/64 }
  guests: { vlan: 40, ipv4: 10.61.40.0/24, ipv6: 2001:db8:61:40::/64 }
devices:
  gate:
    switching:
      unlisted: "off"
      ports:
        trunk: { tagged: [office, looms], admit: tagged }
        lan1: { untagged: guests, admit: untagged }
        lan2: { untagged: looms, admit: untagged }
      own: { tagged: [office, looms, guests] }
    interfaces:
      office: { network: office, host: 1 }
      looms: { network: looms, host: 1 }
      guests: { network: guests, host: 1 }
  loft:
    switching:
      tags: obeyed
      unlisted: "off"
      ports:
        p1: { tagged: [office, looms], admit: tagged }
        p2: { untagged: looms, admit: untagged }
        p3: { untagged: guests, admit: untagged }
        p4: { untagged: office, admit: untagged }
        p5: { untagged: guests, admit: untagged }
  desk: { legs: { nic: { network: office, host: 5, gateway: [10.61.10.1, "2001:db8:61:10::1"] } } }
  guest: { legs: { nic: { network: guests, host: 5, gateway: [10.61.40.1, "2001:db8:61:40::1"] } } }`;
  return networkOf(topology, intent);
}

/**
 * A second router on a trunk whose office leaves it without a tag, which the switch takes for guests: what is sent to that router among looms
 * comes in there and, over the cable at the other one, in the office as well, where nobody hears what it asks.
 */
function twoRouters(): Network {
  const topology = `
devices:
  gate: { is: router, ports: { trunk: 1G, lan1: 1G, lan2: 1G } }
  vault: { is: router, ports: { trunk: 1G } }
  loft: { is: switch, ports: { p1..4: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  loom: { is: host, ports: { nic: 1G } }
cables:
  - [gate:trunk, loft:p1]
  - [vault:trunk, loft:p2]
  - [desk:nic, loft:p3]
  - [loom:nic, loft:p4]
  - [gate:lan1, gate:lan2]`;
  const intent = `
networks:
  office: { vlan: 10, ipv4: 10.61.10.0/24, ipv6: 2001:db8:61:10::/64 }
  looms: { vlan: 20, ipv4: 10.61.20.0/24, ipv6: 2001:db8:61:20::/64 }
  guests: { vlan: 40, ipv4: 10.61.40.0/24 }
devices:
  gate:
    switching:
      unlisted: "off"
      ports:
        trunk: { tagged: [office, looms, guests], admit: tagged }
        lan1: { untagged: office }
        lan2: { untagged: looms }
      own: { tagged: [looms] }
    interfaces: { looms: { network: looms, host: 1 } }
  vault:
    switching:
      unlisted: "off"
      ports: { trunk: { untagged: office, tagged: [looms] } }
      own: { tagged: [office, looms] }
    interfaces: { office: { network: office, host: 2 }, looms: { network: looms, host: 2 } }
  loft:
    switching:
      tags: obeyed
      unlisted: "off"
      ports:
        p1: { tagged: [office, looms, guests] }
        p2: { untagged: guests, tagged: [office, looms] }
        p3: { untagged: office, admit: untagged }
        p4: { untagged: looms }
  desk: { legs: { nic: { network: office, host: 5, gateway: 10.61.10.2 } } }
  loom: { legs: { nic: { network: looms, host: 5, gateway: 10.61.20.1 } } }`;
  return networkOf(topology, intent);
}

/** A router whose looms a cable joins to a box of the office; looms are sent on to it by the other router. */
function behindTheOtherRouter(): Network {
  const topology = `
devices:
  gate: { is: router, ports: { trunk: 1G, lan1: 1G } }
  loft: { is: switch, ports: { p1..4: 1G } }
  vault: { is: router, ports: { trunk: 1G, lan1: 1G } }
  box: { is: unmanaged-switch, ports: { a: 1G, b: 1G }, spanning-tree-frames: pass }
  desk: { is: host, ports: { nic: 1G } }
cables:
  - [gate:trunk, loft:p1]
  - [vault:trunk, loft:p2]
  - [desk:nic, loft:p3]
  - [vault:lan1, box:a]
  - [loft:p4, box:b]`;
  const intent = `
networks:
  office: { vlan: 10, ipv4: 10.61.10.0/24 }
  looms: { vlan: 20, ipv4: 10.61.20.0/24 }
  guests: { vlan: 40, ipv4: 10.61.40.0/24 }
devices:
  gate:
    switching:
      unlisted: "off"
      ports: { trunk: { tagged: [office, looms] }, lan1: { untagged: guests, admit: untagged } }
      own: { tagged: [looms, guests] }
    interfaces: { looms: { network: looms, host: 1 }, guests: { network: guests, host: 1 } }
  vault:
    switching:
      unlisted: "off"
      ports: { trunk: { tagged: [looms] }, lan1: { untagged: looms } }
      own: { tagged: [looms] }
    interfaces: { looms: { network: looms, host: 2 } }
  loft:
    switching:
      tags: obeyed
      unlisted: "off"
      ports:
        p1: { tagged: [office, looms], admit: tagged }
        p2: { tagged: [looms], admit: tagged }
        p3: { untagged: office }
        p4: { untagged: office, admit: untagged }
  desk: { legs: { nic: { network: office, host: 5 } } }`;
  return networkOf(topology, intent);
}

describe("a cable that joins two VLANs", () => {
  it.each(CABLES)("%s: the engines agree about every pair", (_, cable) => {
    const network = millWith(cable);
    const evaluation = new Evaluation(network);
    const groups = network.groups.filter(({ kind }) => kind === "network" || kind === "internet");
    let reached = 0;
    for (const world of evaluation.worlds().worlds) {
      for (const from of groups) {
        for (const to of groups) {
          if (from === to) continue;
          const question = {
            ...startOf({ group: from }, network),
            packets: [[]],
            target: targetOf({ group: to }, network),
          };
          // Throws where they do not.
          const proof = evaluation.prove(world, question);
          expect(proof.undecided).toBeUndefined();
          reached += proof.reached.length;
        }
      }
    }
    expect(reached).toBeGreaterThan(0);
  });

  it("a frame to a router that comes in at two of its interfaces is sent on by each by what that one knows", () => {
    const network = twoRouters();
    const evaluation = new Evaluation(network);
    const groups = network.groups.filter(({ kind }) => kind === "network" || kind === "host");
    const [loom] = groups.filter(({ id }) => id === "loom");
    const [desk] = groups.filter(({ id }) => id === "desk");
    if (loom === undefined || desk === undefined) throw new Error("no desk, or no loom");
    for (const world of evaluation.worlds().worlds) {
      const question = {
        ...startOf({ group: loom }, network),
        packets: [[]],
        target: targetOf({ group: desk }, network),
      };
      // Throws where the engines do not agree.
      const { stopped, reached } = evaluation.prove(world, question);
      expect(reached.length).toBeGreaterThan(0);
      const refused = stopped.filter(({ fate }) => fate.end === "refused" && fate.reason === "no-neighbour");
      expect(refused.map(({ fate }) => fate.at)).toContain("vault/stack");
    }
  });

  it("what is sent on to a router is taken in there, and is not put on what its bridge is joined to", () => {
    const network = behindTheOtherRouter();
    const evaluation = new Evaluation(network);
    const [guests, office] = ["guests", "office"].map((id) => network.groups.find((group) => group.id === id));
    if (guests === undefined || office === undefined) throw new Error("no guests, or no office");
    for (const world of evaluation.worlds().worlds) {
      // Throws where the engines do not agree.
      const { undecided } = evaluation.prove(world, {
        ...startOf({ group: guests }, network),
        packets: [[]],
        target: targetOf({ group: office }, network),
      });
      expect(undecided).toBeUndefined();
    }
  });

  it("whoever's answers the router's own bridge takes in elsewhere is found only once it has asked itself", () => {
    const network = farGuests();
    const evaluation = new Evaluation(network);
    const groupOf = (id: string): Group => {
      const found = network.groups.find((each) => each.id === id);
      if (found === undefined) throw new Error(`no group ${id}`);
      return found;
    };
    for (const world of evaluation.worlds().worlds) {
      const { reached, undecided } = evaluation.prove(world, {
        ...startOf({ group: groupOf("desk") }, network),
        packets: [[]],
        target: targetOf({ group: groupOf("guest") }, network),
      });
      expect(undecided).toBeUndefined();
      const delivered = reached.filter(({ fate }) => fate.end === "delivered");
      expect(delivered.map(({ before }) => before.map(({ sentAt }) => sentAt))).toEqual([["guest/stack"]]);
    }
  });
});
