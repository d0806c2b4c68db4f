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
