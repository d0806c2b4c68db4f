/**
 * Uplinks by PPPoE (RFC 2516): a session is up where both ends speak it on one tag; addresses come with it, nobody is asked
 * for a neighbour, and packets are 1492 bytes at most.
 */
import { describe, expect, it } from "vitest";
import { judge, siteFrom, statuses, type TestSite } from "./verdicts.ts";

const RACK = `
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  modem: { is: switch, ports: { line: 1G, lan: 1G } }
  edge: { is: router, ports: { wan: 1G, lan: 1G } }
  desk: { is: host, ports: { nic: 1G } }
cables:
  - [carrier:drop, modem:line]
  - [modem:lan, edge:wan]
  - [edge:lan, desk:nic]
`;

type Changes = {
  readonly wan?: string;
  readonly handed?: string;
  readonly modem?: string;
  readonly hosts?: string;
  readonly edge?: string;
};

const SIX = 'ipv6: "2001:db8:7100::/64", delegates: 56';

/** A router behind a modem that passes tag 7 on. */
function site({
  wan = "tag: 7, pppoe: yes, ipv4: lease, ipv6: delegated",
  handed = `tag: 7, pppoe: yes, ${SIX}`,
  modem = "tagged: [7]",
  hosts = "hosts: 100-110",
  edge = "",
}: Changes = {}): TestSite {
  return siteFrom(
    RACK,
    `
networks:
  crew: { ipv4: 10.90.10.0/24, ipv6: { delegated: edge/wan, subnet: 1 } }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, ${hosts}, ${handed} } } }
  modem: { switching: { ports: { line: { ${modem} }, lan: { tagged: [7] } } } }
  edge:
    interfaces: { wan: { port: wan, ${wan} }, crew: { network: crew, port: lan, host: 1 } }
    advertise: { crew: {} }
    reverse-path: strict
    translate: { source: [ { name: hide, family: ipv4, out: wan, to: external-address } ] }
${edge}
  desk: { legs: { nic: { network: crew, host: 9, gateway: edge/crew } } }
`,
  );
}

const out = "from: desk, to: internet, service: tcp/443, expect: connects";

const FILTER = `    filter:
      to: { otherwise: drop, rules: [{ name: answers, state: [established, related], action: accept }] }
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: out, in: crew, out: wan, action: accept }
      from: { otherwise: accept }`;
const FORWARD = FILTER.replace(
  "{ name: out,",
  "{ name: web, in: wan, dest: desk, service: tcp/443, action: accept }\n          - { name: out,",
);

describe("a PPPoE session", () => {
  it("carries exchanges out and back, in both versions", () => {
    expect(statuses(site(), out, 'from: desk, to: "2001:db8::9", service: tcp/443, expect: connects')).toEqual([
      "passed",
      "passed",
    ]);
  });

  it("is proved about as any uplink: both engines agree on what comes in by it", () => {
    const asked = [
      "from: internet, to: desk, expect: blocked",
      "from: internet, to: edge/wan, expect: blocked",
      "from: internet, to: crew, expect: blocked",
    ];
    expect(judge(site({ edge: FILTER }), ...asked).map(({ headline }) => headline)).toEqual([
      "no packet gets from internet to desk; what gets furthest: dropped by the end of the `through` list of edge",
      "no packet gets from internet to edge/wan; what gets furthest: dropped by the end of the `to` list of edge",
      "no packet gets from internet to crew; what gets furthest: dropped by the end of the `through` list of edge",
    ]);
    const [desk, router] = judge(site({ edge: FORWARD }), ...asked);
    expect([desk?.status, router?.status]).toEqual(["failed", "passed"]);
    expect(desk?.verdict.witness).toMatchObject({ tag: 7, session: true });
    expect(desk?.packet).toMatch(/^tcp\/443 from .* to 10.90.10.9 at .* tagged 7$/);
  });
});

describe("no session", () => {
  it.each<[string, Changes, string, readonly string[]]>([
    [
      "between a router that speaks PPPoE and a provider that does not",
      { handed: `tag: 7, ${SIX}` },
      "nobody there speaks PPPoE",
      ["yes", "`pppoe: yes`"],
    ],
    [
      "between a router that speaks none and a provider that does",
      { wan: "tag: 7, ipv4: lease, ipv6: delegated" },
      "addresses come by PPPoE there, which it does not speak",
      ["`pppoe: yes`", "yes"],
    ],
    [
      "on another tag at the router",
      { wan: "tag: 8, pppoe: yes, ipv4: lease, ipv6: delegated" },
      "nobody hears its call: it calls in VLAN 8, and carrier answers in VLAN 7",
      ["7", "the network in this list of tagged networks"],
    ],
    [
      "without the tag at the provider",
      { handed: `pppoe: yes, ${SIX}` },
      "nobody hears its call: it calls in VLAN 7, and carrier answers untagged",
      ["drop", "a network for untagged frames"],
    ],
    [
      "through a modem that does not pass the tag on",
      { modem: "tagged: [8]" },
      "nobody hears its call",
      ["the network in this list of tagged networks", "yes"],
    ],
  ])("%s", (_what, changes, text, decided) => {
    const [told] = judge(site(changes), out);
    expect(told).toMatchObject({ status: "failed" });
    expect(told?.headline).toContain(`edge/wan got no address: ${text}`);
    expect(told?.decided.slice(0, 2)).toEqual(decided);
  });

  it("is no reason to fail where the other version works", () => {
    expect(statuses(site({ hosts: "lease: 1h" }), out)).toEqual(["passed"]);
  });

  it("leaves nothing that could come in by it", () => {
    const asked = "from: internet, to: desk, even-if: cut-off, expect: blocked";
    expect(statuses(site({ handed: `tag: 7, ${SIX}`, edge: FILTER }), asked)).toEqual(["passed"]);
  });
});

describe("addresses that are written", () => {
  it("count as soon as the session is up, with a route out by it", () => {
    const wan = "tag: 7, pppoe: yes, ipv4: 203.0.113.9/32";
    const edge = "    routes: [{ to: default, out: wan }]";
    expect(statuses(site({ wan, edge }), out, "from: internet, to: edge/wan, expect: connects")).toEqual([
      "passed",
      "passed",
    ]);
    const [lost] = judge(site({ wan, edge, handed: `tag: 7, ${SIX}` }), out);
    expect(lost).toMatchObject({ status: "failed", decided: ["yes", "a gateway or a route"] });
  });
});
