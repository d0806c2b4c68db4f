/**
 * Which repair comes first where several mend: what is shared by all that fails, and never a door to the whole internet.
 *
 *     carrier --- wan, gate --- sw --- a, b      red 10.1.0.0/24
 *                         \--- lan4              rescue: whoever stands before the router
 */
import { describe, expect, test } from "vitest";
import { faultsOf, mendingsOf, type Plan, planIn, told } from "./repairing.ts";

const NO_TIME_OUT = 120_000;

const RACK = `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  gate: { is: router, ports: { wan: 1G, lan1..2: 1G, lan4: 1G } }
  a: { is: host, ports: { nic: 1G } }
  b: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, gate:wan], [gate:lan1, a:nic], [gate:lan2, b:nic]]
`;
const INTENT = `dryrack: intent/1
networks:
  red: { vlan: 10, ipv4: 10.1.0.0/24, ipv6: "fd01::/64" }
  blue: { vlan: 20, ipv4: 10.2.0.0/24 }
  rescue: { ipv4: 10.99.0.0/24 }
sets: { keepers: [gate, a] }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, hosts: 10-20 } } }
  gate:
    switching: { unlisted: "off", ports: { lan1: { untagged: red }, lan2: { untagged: blue } }, own: { tagged: [red, blue] } }
    interfaces:
      wan: { port: wan, ipv4: lease }
      red: { network: red, host: 1 }
      blue: { network: blue, host: 1 }
      rescue: { port: lan4, network: rescue, host: 1 }
    admin: { services: [tcp/22, tcp/443], listen: [wan, red, rescue] }
    filter:
      to:
        otherwise: drop
        rules:
          - { name: rescue, in: rescue, action: accept }
          - { name: neighbours, in: red, service: [icmp6/neighbour-solicitation, icmp6/neighbour-advertisement], action: accept }
          - { name: echo, in: red, service: icmp6/echo-request, action: accept }
          - { name: keeping, in: red, source: keepers, service: tcp/22, action: accept }
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: keepers see blue, in: red, source: keepers, out: blue, service: tcp/80, action: accept }
  a: { legs: { nic: { network: red, host: 10, gateway: 10.1.0.1 } } }
  b: { legs: { nic: { network: blue, host: 10, gateway: 10.2.0.1 } } }
`;

function plan(assertions: string, ...edits: readonly (readonly [from: string, to: string])[]): Plan {
  for (const [from] of edits) if (!INTENT.includes(from)) throw new Error(`nothing says ${from}`);
  const intent = edits.reduce((text, [from, to]) => text.replace(from, to), INTENT);
  return planIn([RACK, intent], `dryrack: assertions/1\nassertions:\n${assertions}`);
}

describe("of several repairs", () => {
  test(
    "a name more in a set comes first, where several rules ask for the set",
    async () => {
      const wanted = plan(
        "  - { name: keeps, from: a, to: gate/red, service: tcp/22, expect: connects }\n" +
          "  - { name: sees, from: a, to: b, service: tcp/80, expect: connects }\n" +
          "  - { name: leaves, from: blue, to: red, expect: blocked, even-if: cut-off }\n",
        ["keepers: [gate, a]", "keepers: [gate]"],
      );
      const [first, second] = await mendingsOf(wanted);
      for (const mending of [first, second]) {
        const [repair] = mending?.repairs ?? [];
        expect(repair && told(repair)).toBe("rule\n- sets: { keepers: [gate] }\n+ sets: { keepers: [gate, a] }");
      }
      const [repair] = first?.repairs ?? [];
      expect(repair?.mends).toEqual(["sees"]);
      expect(repair && faultsOf(wanted, "keeps", repair)).toEqual([]);
    },
    NO_TIME_OUT,
  );

  const OUTSIDE =
    "  - { name: ssh, from: internet, to: gate/wan, service: tcp/22, expect: arrives }\n" +
    "  - { name: web, from: internet, to: gate/wan, service: tcp/443, expect: arrives }\n";

  test(
    "none lets the internet in by a rule that asks for no service, though that mends more",
    async () => {
      const texts = (await mendingsOf(plan(OUTSIDE))).flatMap(({ repairs }) => repairs.map(told));
      expect(texts).toContain(
        "rule\n+ - { name: internet to gate/wan, in: wan, dest: gate/wan, service: tcp/22, action: accept }",
      );
      expect(texts.filter((text) => text.includes("[rescue, wan]"))).toEqual([]);
    },
    NO_TIME_OUT,
  );

  test(
    "one does, where just that is asked for",
    async () => {
      const all = "  - { name: all, from: internet, to: gate/wan, expect: arrives }\n";
      const texts = (await mendingsOf(plan(all))).flatMap(({ repairs }) => repairs.map(told));
      expect(
        texts.some((text) => text.includes("in: wan") || text.includes("[rescue, wan]")),
        texts.join("\n"),
      ).toBe(true);
    },
    NO_TIME_OUT,
  );

  test(
    "a service that the list of a rule lacks is added there, that of asking for neighbours too",
    async () => {
      const ping =
        "  - { name: ping, from: a, to: gate/red, service: icmp6/echo-request, family: ipv6, expect: connects }\n";
      const [mending] = await mendingsOf(plan(ping, ["[icmp6/neighbour-solicitation, ", "["]));
      const [repair] = mending?.repairs ?? [];
      expect(repair?.text).toBe(
        "add `icmp6/neighbour-solicitation` to `service` of `neighbours` in the `to` list of gate",
      );
    },
    NO_TIME_OUT,
  );

  test(
    "the rule that lacks a service is told, though one of its own would open it to fewer",
    async () => {
      const web = "  - { name: web, from: a, to: gate/red, service: tcp/443, expect: connects }\n";
      const [mending] = await mendingsOf(plan(web, ["source: keepers, service: tcp/22", "service: [tcp/22, tcp/80]"]));
      const texts = mending?.repairs.map(({ text }) => text);
      expect(texts).toContain("add `tcp/443` to `service` of `keeping` in the `to` list of gate");
      expect(texts).toContain("add a rule to the `to` list of gate, before the end of the list");
    },
    NO_TIME_OUT,
  );
});
