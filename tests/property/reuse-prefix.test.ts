/**
 * Incremental equals full where an edit of a rule decides whether a prefix is delegated: leases are handed on only where no rule that they
 * met has changed, and what the routers ask for their prefixes met these.
 */
import { describe, expect, it } from "vitest";
import { judge, type Texts } from "./reuse.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  edge: { is: router, ports: { wan: 1G, lan: 1G } }
  desk: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, edge:wan], [edge:lan, desk:nic]]
`;
const ASSERTIONS = `dryrack: assertions/1
assertions:
  - { name: out, from: desk, to: "2001:4860::1", service: tcp/443, expect: connects }
  - { name: in, from: internet, to: desk, expect: blocked }
  - { name: near, from: desk, to: edge, service: tcp/22, expect: connects }
`;

/** The plan with what it does about answers to port 546. */
function plan(action: string): Texts {
  const intent = `dryrack: intent/1
networks: { crew: { ipv6: { delegated: edge/wan, subnet: 1 } } }
devices:
  carrier: { hands-out: { drop: { ipv6: "2001:db8:7100::/64", delegates: 56 } } }
  edge:
    interfaces: { wan: { port: wan, ipv6: delegated }, crew: { network: crew, port: lan, host: 1 } }
    advertise: { crew: {} }
    admin: { services: [tcp/22], listen: [crew] }
    filter:
      to:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: prefix, in: wan, service: udp/546, action: ${action} }
          - { name: neighbours, service: [icmp6/neighbour-solicitation, icmp6/neighbour-advertisement, icmp6/router-advertisement], action: accept }
          - { name: crew asks, in: crew, action: accept }
      through: { otherwise: drop, rules: [{ name: answers, state: [established, related], action: accept }, { name: out, in: crew, action: accept }] }
  desk: { legs: { nic: { network: crew, ipv6: advertised } } }
`;
  return [TOPOLOGY, intent, ASSERTIONS];
}

describe("a rule that decides whether a prefix comes", () => {
  it.each([
    ["accept", "drop", "failed"],
    ["drop", "accept", "passed"],
  ])("from %s to %s: what is judged anew is what is judged from nothing", (before, after, status) => {
    const first = judge(plan(before));
    const again = judge(plan(after), first);
    expect(again?.json).toBe(judge(plan(after))?.json);
    expect(again?.result.verdicts[0]?.status).toBe(status);
  });
});
