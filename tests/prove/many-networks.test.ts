/**
 * A router with a leg in each of many networks: what a question about two of them costs does not grow with the others, where the
 * router believes no source that its routes do not lead back to (RFC 3704 section 2.2).
 */
import { expect, it } from "vitest";
import { Evaluation, startOf, targetOf } from "../../src/evaluate/index.ts";
import type { Group, Network } from "../../src/network/index.ts";
import { createProver, type Proof } from "../../src/prove/index.ts";
import { networkOf } from "../support/site.ts";

function siteOf(count: number): Network {
  const numbers = Array.from({ length: count }, (_, index) => index + 1);
  const names = numbers.map((number) => `n${number}`).join(", ");
  const topology = `
devices:
  far: { is: upstream, ports: { drop: 1G } }
  gate: { is: router, ports: { wan: 1G, trunk: 10G } }
  core: { is: switch, ports: { up: 10G, p1..${count}: 1G } }
${numbers.map((number) => `  h${number}: { is: host, ports: { nic: 1G } }`).join("\n")}
cables: [[far:drop, gate:wan], [gate:trunk, core:up], ${numbers.map((number) => `[core:p${number}, h${number}:nic]`).join(", ")}]`;
  const intent = `
networks: { ${numbers.map((number) => `n${number}: { vlan: ${100 + number}, ipv4: 10.20.${number}.0/24 }`).join(", ")} }
devices:
  far: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }
  core:
    switching:
      unlisted: "off"
      ports:
        up: { tagged: [${names}], admit: tagged }
${numbers.map((number) => `        p${number}: { untagged: n${number}, admit: untagged }`).join("\n")}
  gate:
    interfaces:
      wan: { port: wan, ipv4: lease }
${numbers.map((number) => `      n${number}: { port: trunk, network: n${number}, tag: n${number}, host: 1 }`).join("\n")}
    reverse-path: strict
    filter:
      to: { otherwise: drop, rules: [] }
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: out, in: [${names}], out: wan, action: accept }
          - { name: a share, in: n1, out: n3, service: tcp/445, action: accept }
    translate: { source: [{ name: behind one address, family: ipv4, out: wan, to: external-address }] }
${numbers.map((number) => `  h${number}: { legs: { nic: { network: n${number}, host: 10, gateway: 10.20.${number}.1 } } }`).join("\n")}`;
  return networkOf(topology, intent);
}

function proofOf(count: number, from: string, to: string): Proof {
  const network = siteOf(count);
  const [world] = new Evaluation(network).worlds().worlds;
  if (world === undefined) throw new Error("the site has no world");
  const group = (name: string): Group => {
    const found = network.groups.find(({ id }) => id === name);
    if (found === undefined) throw new Error(`no network ${name}`);
    return found;
  };
  const question = { ...startOf({ group: group(from) }, network), target: targetOf({ group: group(to) }, network) };
  return createProver(network, world.settled).prove({ ...question, packets: [[]] });
}

it("two networks of many are as much work as two of few", () => {
  const [few, many] = [proofOf(8, "n1", "n2"), proofOf(32, "n1", "n2")];
  expect([few.reached, many.reached]).toEqual([[], []]);
  expect(many.steps).toBeLessThan(few.steps * 1.1);
});

it("what gets through is found all the same", () => {
  const { reached } = proofOf(32, "n1", "n3");
  const [smallest] = reached;
  expect([smallest?.fate.at, smallest?.before]).toEqual(["gate:trunk", []]);
  expect(new Map(smallest?.witness.numbers).get("destinationPort")).toBe(445n);
});
