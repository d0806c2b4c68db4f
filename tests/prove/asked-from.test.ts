/**
 * ARP asks from the address that faces what it asks for (`arp_announce` 2), whatever packet waits, and a router that believes only
 * sources which its routes lead back to answers no other question (kernel fact 8, RFC 3704 section 2.2). Each class of the proof is
 * replayed in the simulator; the site as it was found is also tried on a kernel (`kernel:witnesses`, seed 5139).
 */
import { expect, it } from "vitest";
import { Evaluation, sendersOf, targetOf } from "../../src/evaluate/index.ts";
import type { Group, Network } from "../../src/network/index.ts";
import { networkOf } from "../support/site.ts";

/** A host with two addresses behind a router that has an address in both networks, and routes one of the host's elsewhere. */
function siteOf(astray: string, gateway: string): Network {
  return networkOf(
    `
devices:
  asks: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { in: 1G, out: 1G, side: 1G } }
  box:  { is: host, ports: { nic: 1G } }
  other: { is: host, ports: { nic: 1G } }
cables: [[asks:nic, edge:in], [edge:out, box:nic], [edge:side, other:nic]]`,
    `
devices:
  asks: { legs: { nic: { ipv4: [10.0.6.11/24, 10.0.134.11/24], gateway: ${gateway} } } }
  edge:
    interfaces:
      in:   { port: in, ipv4: [10.0.6.1/24, 10.0.134.1/24] }
      out:  { port: out, ipv4: 10.0.2.1/24 }
      side: { port: side, ipv4: 10.0.9.1/24 }
    routes: [{ to: ${astray}/32, via: 10.0.9.2 }]
    reverse-path: strict
  box: { legs: { nic: { ipv4: 10.0.2.12/24, gateway: 10.0.2.1 } } }
  other: { legs: { nic: { ipv4: 10.0.9.2/24, gateway: 10.0.9.1 } } }`,
  );
}

/** How packets of the host to the box end that need no others before them, each reason once. */
function ends(network: Network): readonly string[] {
  const evaluation = new Evaluation(network);
  const [world] = evaluation.worlds().worlds;
  if (world === undefined) throw new Error("the site has no world");
  const group = (name: string): Group => {
    const found = network.groups.find(({ id }) => id === name);
    if (found === undefined) throw new Error(`no group ${name}`);
    return found;
  };
  const question = { entrances: [], senders: sendersOf(group("asks"), network), packets: [[]] };
  const { reached, stopped } = evaluation.prove(world, {
    ...question,
    target: targetOf({ group: group("box") }, network),
  });
  const fates = [...reached, ...stopped]
    .filter(({ before }) => before.length === 0)
    .map(({ fate }) => `${"reason" in fate ? fate.reason : fate.end} at ${fate.at}`);
  return [...new Set(fates)].sort();
}

it.each([
  [
    "the address that faces the gateway is routed elsewhere: nobody answers",
    "10.0.6.11",
    "10.0.6.1",
    ["no-neighbour at asks/stack"],
  ],
  [
    "another one is: who sends from that is not believed",
    "10.0.134.11",
    "10.0.6.1",
    ["delivered at box/stack", "reverse-path at edge/stack"],
  ],
  ["by the other gateway it is the other way round", "10.0.134.11", "10.0.134.1", ["no-neighbour at asks/stack"]],
])("%s", (_, astray, gateway, expected) => {
  expect(ends(siteOf(astray, gateway))).toEqual(expected);
});
