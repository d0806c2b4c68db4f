/** Repairs of names that do not work: each is done by its printed lines, and judged afresh. */
import { describe, expect, it } from "vitest";
import { faultsOf, mendingsOf, type Plan, planIn, told } from "./repairing.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  mole: { is: router, ports: { wan: 1G, a: 1G } }
  crane: { is: host, ports: { nic: 1G } }
cables:
  - [carrier:drop, mole:wan]
  - [mole:a, crane:nic]
`;
const INTENT = `dryrack: intent/1
networks:
  pier: { ipv4: 10.64.1.0/24 }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }
  mole:
    interfaces:
      wan: { port: wan, ipv4: lease }
      pier: { network: pier, port: a, host: 1 }
    dhcp:
      pier: { hosts: 100-110 }
    resolver: { forward: [198.51.100.53] }
    filter:
      to:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: leases, in: pier, service: udp/67, action: accept }
          - { name: names, in: pier, service: [udp/53, tcp/53], action: accept }
      through: { otherwise: drop }
      from: { otherwise: accept }
  crane: { legs: { nic: lease } }
`;
const NAMES = "          - { name: names, in: pier, service: [udp/53, tcp/53], action: accept }\n";
const ANSWERS = "          - { name: answers, state: [established, related], action: accept }\n";

async function repaired(find: string, by: string): Promise<readonly string[]> {
  const intent = INTENT.replace(find, by);
  const plan: Plan = planIn(
    [TOPOLOGY, intent],
    "dryrack: assertions/1\nassertions:\n  - { name: names work, from: crane, expect: resolves }\n",
  );
  const [mending] = await mendingsOf(plan);
  const repairs = mending?.repairs ?? [];
  for (const repair of repairs) expect(faultsOf(plan, "names work", repair), told(repair)).toEqual([]);
  return repairs.map(told);
}

describe("names that do not work are mended", () => {
  it("by a rule that lets the client ask", async () => {
    expect(await repaired(NAMES, "")).toEqual([
      "rule\n+ - { name: crane to 10.64.1.1, in: pier, dest: mole/pier, service: udp/53, action: accept }",
    ]);
  });

  it("by a rule that lets the answer to the resolver in", async () => {
    expect(await repaired(ANSWERS, "")).toEqual([
      "rule\n+ - { name: answers, in: wan, state: established, action: accept }",
    ]);
  });

  it("by the resolver that a lease names where nobody says otherwise", async () => {
    const [first] = await repaired("pier: { hosts: 100-110 }", "pier: { hosts: 100-110, resolvers: none }");
    expect(first).toContain("- pier: { hosts: 100-110, resolvers: none }\n+ pier: { hosts: 100-110 }");
  });
});
