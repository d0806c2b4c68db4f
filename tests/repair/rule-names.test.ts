/** Names of the rules that repairs put in: of many ends cut between words, with all of them in the rule's conditions. */
import { describe, expect, it } from "vitest";
import { mendingsOf, planIn, told } from "./repairing.ts";

const CRANES = ["north-crane", "south-crane", "eastern-crane", "western-crane"] as const;

/** Cranes on a pier, a scale in the office; the router between them lets nothing pass. */
async function repairedFor(from: readonly string[]): Promise<readonly string[]> {
  const topology = `dryrack: topology/1
devices:
  mole: { is: router, ports: { p1..8: 1G } }
  scale: { is: host, ports: { nic: 1G } }
${CRANES.map((name) => `  ${name}: { is: host, ports: { nic: 1G } }\n`).join("")}cables:
  - [mole:p8, scale:nic]
${CRANES.map((name, index) => `  - [mole:p${index + 1}, ${name}:nic]\n`).join("")}`;
  const intent = `dryrack: intent/1
networks:
  pier: { vlan: 10, ipv4: 10.64.1.0/24 }
  office: { vlan: 20, ipv4: 10.64.2.0/24 }
devices:
  mole:
    switching: { ports: { p1..4: { untagged: pier }, p8: { untagged: office } }, own: { tagged: [pier, office] } }
    interfaces: { pier: { network: pier, host: 1 }, office: { network: office, host: 1 } }
    filter:
      through:
        otherwise: drop
        rules: [{ name: answers, state: [established, related], action: accept }]
  scale: { legs: { nic: { network: office, host: 9, gateway: mole/office } }, serves: { tcp/80: all } }
${CRANES.map((name, index) => `  ${name}: { legs: { nic: { network: pier, host: ${index + 10}, gateway: mole/pier } } }\n`).join("")}`;
  const asserted = `dryrack: assertions/1
assertions:
  - { name: cranes weigh, from: [${from.join(", ")}], to: scale, service: tcp/80, expect: connects }
`;
  const [mending] = await mendingsOf(planIn([topology, intent], asserted));
  return mending?.repairs.map(told) ?? [];
}

describe("the name of a rule that is put in", () => {
  it("names all ends where they are few", async () => {
    const [first] = await repairedFor(CRANES.slice(0, 2));
    expect(first).toContain("{ name: north-crane and south-crane to scale, in: pier, out: office, source: [");
  });

  it("names the first of many, and the rule names them all", async () => {
    const [first] = await repairedFor(CRANES);
    expect(first).toContain("{ name: north-crane and 3 more to scale, in: pier, out: office,");
    expect(first).toContain(`source: [${CRANES.join(", ")}]`);
  });
});
