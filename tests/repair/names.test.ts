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
  return repairedIn([TOPOLOGY, INTENT.replace(find, by)]);
}

async function repairedIn(texts: readonly string[]): Promise<readonly string[]> {
  const plan: Plan = planIn(
    texts,
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

  it("by a leg more at which the resolver listens", async () => {
    const [first] = await repaired("resolver: { forward", "resolver: { listen: [wan], forward");
    expect(first).toBe(
      "service\n- resolver: { listen: [wan], forward: [198.51.100.53] }\n+ resolver: { listen: [wan, pier], forward: [198.51.100.53] }",
    );
  });

  it("by the resolver of the site in the place of one that nobody is", async () => {
    const all = await repaired("pier: { hosts: 100-110 }", "pier: { hosts: 100-110, resolvers: [10.64.1.77] }");
    expect(all).toContain(
      "service\n- pier: { hosts: 100-110, resolvers: [10.64.1.77] }\n+ pier: { hosts: 100-110, resolvers: [mole/pier] }",
    );
  });

  it("by the resolver of the site for a leg that was told nobody", async () => {
    const all = await repaired("nic: lease", "nic: { network: pier, host: 9, gateway: mole/pier }");
    expect(all).toEqual([
      "service\n- crane: { legs: { nic: { network: pier, host: 9, gateway: mole/pier } } }\n+ crane: { legs: { nic: { network: pier, host: 9, gateway: mole/pier, resolvers: [mole/pier] } } }",
    ]);
  });

  it("by telling clients of another one where the router, which they were to ask without a word of it, runs none", async () => {
    const elsewhere = INTENT.replace("    resolver: { forward: [198.51.100.53] }\n", "").replace(
      "through: { otherwise: drop }",
      "through: { otherwise: accept }",
    );
    const winch =
      "  winch: { legs: { nic: { network: pier, host: 53, gateway: mole/pier } }, serves: {}, resolver: { forward: [198.51.100.53] } }\n";
    const rack = TOPOLOGY.replace("a: 1G", "a: 1G, b: 1G")
      .replace("cables:", "  winch: { is: host, ports: { nic: 1G } }\ncables:")
      .concat("  - [mole:b, winch:nic]\n");
    const bridged = elsewhere
      .replace("pier: { network: pier, port: a, host: 1 }", "pier: { network: pier, host: 1 }")
      .replace(
        "    interfaces:\n",
        "    switching: { ports: { a: { untagged: pier }, b: { untagged: pier } }, own: { tagged: [pier] } }\n    interfaces:\n",
      )
      .replace("pier: { ipv4", "pier: { vlan: 5, ipv4")
      .concat("")
      .replace(
        "    filter:\n",
        "    translate: { source: [{ name: hide, family: ipv4, out: wan, to: external-address }] }\n    filter:\n",
      );
    expect(await repairedIn([rack, bridged + winch])).toContain(
      "service\n- pier: { hosts: 100-110 }\n+ pier: { hosts: 100-110, resolvers: [winch/nic] }",
    );
  });

  it("by the resolver that a lease names where nobody says otherwise", async () => {
    const all = await repaired("pier: { hosts: 100-110 }", "pier: { hosts: 100-110, resolvers: none }");
    expect(all).toContainEqual(
      expect.stringContaining("- pier: { hosts: 100-110, resolvers: none }\n+ pier: { hosts: 100-110 }"),
    );
  });
});
