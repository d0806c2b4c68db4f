/**
 * A delegated prefix comes by an exchange that rules may stop (RFC 8415 sections 7.1 and 7.2): the request goes from a link-local
 * address and port 546 to ff02::1:2 and port 547, the answer comes from the server's own address, and belongs to no connection that is
 * known. Asked of Linux 6.18 by two namespaces, with a datagram each way: of `ct state established,related` 0 packets are counted, of a
 * rule for `ip6 saddr fe80::/10 udp dport 546` 1, which gets through where that accepts and is lost where it drops.
 */
import { describe, expect, it } from "vitest";
import { judge, siteFrom, type TestSite, type Told } from "./verdicts.ts";

const RACK = `
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  edge: { is: router, ports: { wan: 1G, lan: 1G } }
  sw: { is: switch, ports: { p1..3: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  till: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, edge:wan], [edge:lan, sw:p1], [sw:p2, desk:nic], [sw:p3, till:nic]]
`;
const NEIGHBOURS = "[icmp6/neighbour-solicitation, icmp6/neighbour-advertisement, icmp6/router-advertisement]";
const ANSWER = "{ name: prefix, in: wan, source: fe80::/10, dest: fe80::/10, service: udp/546, action: accept }";

type Lists = { readonly to?: string; readonly from?: string; readonly wan?: string; readonly handed?: string };

/** A router whose `to` list knows connections and neighbours, and whatever is added. */
function site({ to = "", from = "", wan = "", handed = "" }: Lists = {}): TestSite {
  return siteFrom(
    RACK,
    `
networks: { crew: { ipv4: 10.90.1.0/24, ipv6: { delegated: edge/wan, subnet: 1 } } }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, hosts: 10-20, ipv6: "2001:db8:7100::/64", delegates: 56${handed} } } }
  edge:
    interfaces:
      wan: { port: wan, ipv4: lease, ipv6: delegated${wan} }
      crew: { network: crew, port: lan, host: 1 }
    advertise: { crew: {} }
    dhcp: { crew: { hosts: 50-60, lease: 1h } }
    filter:
      to:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: neighbours, service: ${NEIGHBOURS}, action: accept }
          - { name: crew asks, in: crew, action: accept }
          ${to === "" ? "" : `- ${to}`}
      through: { otherwise: accept }
      from: { otherwise: accept${from === "" ? "" : `, rules: [${from}]`} }
    translate: { source: [{ name: out, family: ipv4, out: wan, to: external-address }] }
  desk: { legs: { nic: { ipv4: lease, ipv6: advertised } } }
  till: { legs: { nic: { network: crew, host: 7, gateway: edge/crew } } }
`,
  );
}

const OUT = 'from: desk, to: "2001:4860::1", service: tcp/443, expect: connects';
const outOf = (lists?: Lists): Told | undefined => judge(site(lists), OUT)[0];

describe("the answer of who delegates", () => {
  it("is dropped by a list that knows connections alone, and so there is no prefix", () => {
    expect(outOf()).toMatchObject({
      status: "failed",
      headline:
        "desk to 2001:4860::1 on tcp/443: desk/nic got no address: edge/wan got no prefix: the answer was dropped by edge",
      decided: ["drop", expect.any(String)],
      verdict: {
        help: "accept it in a rule of `to`: `in: wan, source: fe80::/10, dest: fe80::/10, service: udp/546`, since it belongs to no known connection",
      },
    });
  });

  it("gets in by a rule of its own, and the prefix is there", () => {
    expect(outOf({ to: ANSWER })?.status).toBe("passed");
  });

  it.each([
    ["the other port", ANSWER.replace("546", "547")],
    ["another interface", ANSWER.replace("in: wan", "in: crew")],
    ["global sources", ANSWER.replace("fe80::/10", "2000::/3")],
  ])("does not get in by a rule for %s", (_, to) => {
    expect(outOf({ to })?.headline).toContain("edge/wan got no prefix: the answer was dropped by edge");
  });

  it("is asked for over PPPoE all the same", () => {
    const session = { wan: ", tag: 7, pppoe: yes", handed: ", tag: 7, pppoe: yes" };
    expect(outOf(session)?.headline).toContain("edge/wan got no prefix: the answer was dropped by edge");
    expect(outOf({ ...session, to: ANSWER })?.status).toBe("passed");
  });

  it("decides what nobody knows where nobody knows the rule", () => {
    const unknown = ANSWER.replace("action: accept", "action: unknown, note: an add-on of the maker");
    expect(outOf({ to: unknown })).toMatchObject({ status: "undecided", limit: "an add-on of the maker" });
  });
});

describe("the request", () => {
  it("passes the router's own list", () => {
    const told = outOf({ to: ANSWER, from: "{ name: six, out: wan, service: udp/547, action: drop }" });
    expect(told).toMatchObject({ status: "failed", decided: ["six", expect.any(String)] });
    expect(told?.headline).toContain("edge/wan got no prefix: its request was dropped by edge");
    expect(told?.verdict.help).toContain("`out: wan, dest: ff02::1:2, service: udp/547`");
  });
});

describe("a prefix that did not come", () => {
  const told = judge(
    site(),
    'from: till, to: "2001:4860::1", service: tcp/443, expect: connects',
    "from: desk, to: internet, service: tcp/443, expect: connects",
    "from: internet, to: till, service: tcp/443, expect: blocked",
  );

  it("leaves no address of it, written ones neither", () => {
    expect(told[0]).toMatchObject({ status: "failed", decided: ["drop", expect.any(String)] });
    expect(told[0]?.headline).toContain("till/nic got no address: edge/wan got no prefix");
  });

  it("takes nothing from IPv4, and that this works alone is said with the reason", () => {
    expect(told[1]).toMatchObject({
      status: "passed",
      assumptions: [
        "addresses of the internet answer every service",
        "desk gets to internet on tcp/443 over IPv4 alone; over IPv6: got no address: edge/wan got no prefix: the answer was dropped by edge",
      ],
    });
  });

  it("is reached by nobody, and no stand-in is told", () => {
    expect(told[2]?.assumptions.filter((text) => text.includes("prefix"))).toEqual([]);
  });
});

describe("a prefix that did not come, on a site that loses its uplink", () => {
  /** Two networks that a router keeps apart in IPv4 alone; people take leases from a box whose cable shares a duct with the uplink. */
  const halves = (to: string): TestSite =>
    siteFrom(
      `
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  edge: { is: router, ports: { wan: 1G, l1: 1G, l2: 1G } }
  box: { is: router, ports: { lan: 1G } }
  sw: { is: switch, ports: { p1..4: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  kiln: { is: host, ports: { nic: 1G } }
shared-fates: { duct: under the yard }
cables:
  - { ends: [carrier:drop, edge:wan], shares: [duct] }
  - { ends: [box:lan, sw:p2], shares: [duct] }
  - [edge:l1, sw:p1]
  - [sw:p3, desk:nic]
  - [edge:l2, kiln:nic]
`,
      `
networks:
  crew: { ipv4: 10.90.1.0/24, ipv6: { delegated: edge/wan, subnet: 1 } }
  works: { ipv4: 10.90.2.0/24, ipv6: { delegated: edge/wan, subnet: 2 } }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, hosts: 10-20, ipv6: "2001:db8:7100::/64", delegates: 56 } } }
  edge:
    interfaces:
      wan: { port: wan, ipv4: lease, ipv6: delegated }
      crew: { network: crew, port: l1, host: 1 }
      works: { network: works, port: l2, host: 1 }
    advertise: { crew: {}, works: {} }
    filter:
      to:
        otherwise: drop
        rules:
          - { name: neighbours, service: ${NEIGHBOURS}, action: accept }
          - { name: inside, in: [crew, works], action: accept }
          ${to === "" ? "" : `- ${to}`}
      through: { otherwise: accept, rules: [{ name: apart, in: crew, out: works, family: ipv4, action: drop }] }
  box:
    interfaces: { lan: { network: crew, port: lan, host: 2 } }
    dhcp: { lan: { hosts: 50-60, lease: 1h, router: 10.90.1.1 } }
  desk: { legs: { nic: { ipv4: lease, ipv6: advertised } } }
  kiln: { legs: { nic: { network: works, host: 7, gateway: edge/works } } }
`,
    );
  const broken = (to: string, asked: string): readonly string[] =>
    (judge(halves(to), asked)[0]?.verdict.breaks ?? []).map(({ without }) => without.join(" and "));
  const APART = "from: desk, to: kiln, expect: blocked";
  const REACH = "from: desk, to: edge/crew, expect: connects";

  it("is no more there than before: what was apart without it stays apart", () => {
    expect(judge(halves(""), APART)[0]?.status).toBe("passed");
    expect(judge(halves(ANSWER), APART)[0]?.status).toBe("failed");
    expect(judge(halves(""), `${APART}, survives: { one-of: [cables, devices] }`)[0]?.status).toBe("passed");
  });

  it("keeps nothing that hung on IPv4", () => {
    expect(broken("", `${REACH}, survives: { one-of: cables }`)).toContain("the shared fate duct");
    // Who has a prefix goes on with it, and so do those whom it lends one.
    expect(broken(ANSWER, `${REACH}, survives: { one-of: cables }`)).not.toContain("the shared fate duct");
  });
});
