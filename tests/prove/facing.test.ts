/**
 * Behind the address of an interface with several: the one that faces the next hop, which on the link is the destination
 * (kernel fact 21), so packets of one route to one link may be seen from different addresses.
 */
import { describe, expect, it } from "vitest";
import { Evaluation, startOf, targetOf } from "../../src/evaluate/index.ts";
import type { Group } from "../../src/network/index.ts";
import { networkOf } from "../support/site.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  asks: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { in: 1G, out: 1G } }
  box:  { is: host, ports: { nic: 1G } }
cables: [[asks:nic, edge:in], [edge:out, box:nic]]
`;

/** A box with two addresses, of which it takes packets from some sources alone. */
const intent = (second: string, takes: string): string => `dryrack: intent/1
devices:
  asks: { legs: { nic: { ipv4: 10.0.9.9/24, gateway: 10.0.9.1 } } }
  edge:
    interfaces:
      in:  { port: in, ipv4: 10.0.9.1/24 }
      out: { port: out, ipv4: [10.0.2.1/24, ${second}.1/24] }
    translate: { source: [ { name: hide, family: ipv4, out: out, to: external-address } ] }
  box:
    legs: { nic: { ipv4: [10.0.2.12/24, ${second}.12/24], gateway: 10.0.2.1 } }
    filter: { to: { otherwise: drop, rules: [ ${takes} ] } }
`;

function proved(second: string, takes: string): string[] {
  const network = networkOf(TOPOLOGY, intent(second, takes));
  const group = (name: string): Group => {
    const found = network.groups.find(({ id }) => id === name);
    if (found === undefined) throw new Error(`no group ${name}`);
    return found;
  };
  const evaluation = new Evaluation(network);
  const [world] = evaluation.worlds().worlds;
  if (world === undefined) throw new Error("no world");
  const start = startOf({ group: group("asks") }, network);
  const proof = evaluation.prove(world, {
    ...start,
    packets: [[]],
    target: targetOf({ group: group("box") }, network),
  });
  return [...new Set(proof.reached.flatMap(({ fate }) => (fate.end === "delivered" ? [fate.at] : [])))];
}

describe("two prefixes on one link", () => {
  it.each(["10.0.3", "10.0.131"])("each has its own address: 10.0.2 and %s", (second) => {
    expect(proved(second, `{ name: own, source: ${second}.1, dest: ${second}.12, action: accept }`)).toEqual([
      "box/stack",
    ]);
    expect(proved(second, `{ name: other, source: 10.0.2.1, dest: ${second}.12, action: accept }`)).toEqual([]);
    expect(proved(second, `{ name: crossed, source: ${second}.1, dest: 10.0.2.12, action: accept }`)).toEqual([]);
  });
});
