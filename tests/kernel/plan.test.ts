/** The translation as text: what a person reads before anything is built. Needs no privilege. */
import { describe, expect, it } from "vitest";
import { planKernel, showKernel } from "../../src/kernel/index.ts";
import { siteOf } from "../support/site.ts";
import { row } from "./row.ts";

/** The lines of one section of the text. */
function section(title: string, ...texts: readonly string[]): readonly string[] {
  const text = showKernel(planKernel(siteOf(...texts)));
  const found = text.split("\n\n").find((each) => each.startsWith(`# ${title}\n`));
  return found?.trim().split("\n").slice(1) ?? [];
}

/** The rules of the row's router, without the frame of their chain, and without what every router of IPv6 has. */
function rules(edge: string): readonly string[] {
  return section("edge/rules.nft: nft -f", ...row({ edge }))
    .filter((line) => line.startsWith("    ") && !line.includes(" hook "))
    .map((line) => line.trim())
    .filter((line) => line !== NO_REDIRECT);
}

const NO_REDIRECT = "icmpv6 type nd-redirect drop";

describe("the text of a plan", () => {
  it("joins namespaces by cables, with the hardware addresses of the description", () => {
    const cables = section("cables.batch: ip -batch", ...row());
    expect(cables).toHaveLength(2);
    expect(cables[0]).toMatch(
      /^link add name nic index 100 netns desk address .{17} mtu 1500 type veth peer name left index 101 netns edge address .{17} mtu 1500$/,
    );
  });

  it("gives addresses in the order of the interfaces, then routes", () => {
    const texts = row({
      edge: "routes: [{ to: 10.9.0.0/16, via: 10.31.2.9, metric: 7 }, { to: fd99::/16, action: prohibit }]",
    });
    expect(section("edge/ip.batch: ip -batch", ...texts).slice(-1)).toEqual(["link set dev right up"]);
    expect(section("edge/route.batch: ip -force -batch", ...texts)).toEqual([
      "route add 10.9.0.0/16 via 10.31.2.9 dev right metric 7",
      "route add prohibit fd99::/16 metric 1024",
    ]);
  });

  it("advertises by radvd, and has those who wait accept it", () => {
    const edge =
      'advertise: { left: { router-lifetime: 0s, resolvers: ["fd31:1::1"] }, right: { preference: high, autonomous: no, mtu: 1400, router-lifetime: 60s } }';
    const texts = row({ edge }).map((text) =>
      text.replace('"fd31:1::9/64", gateway: [10.31.1.1, "fd31:1::1"]', "advertised"),
    );
    expect(section("edge/radvd.conf: radvd --nodaemon", ...texts)).toEqual([
      "interface left {",
      "  AdvSendAdvert on;",
      "  MaxRtrAdvInterval 600;",
      "  AdvDefaultLifetime 0;",
      "  AdvDefaultPreference medium;",
      "  prefix fd31:1::/64 { AdvOnLink on; AdvAutonomous on; AdvValidLifetime 2592000; AdvPreferredLifetime 604800; };",
      "  RDNSS fd31:1::1 { };",
      "};",
      "interface right {",
      "  AdvSendAdvert on;",
      "  MaxRtrAdvInterval 60;",
      "  AdvDefaultLifetime 60;",
      "  AdvDefaultPreference high;",
      "  AdvLinkMTU 1400;",
      "  prefix fd31:2::/64 { AdvOnLink on; AdvAutonomous off; AdvValidLifetime 2592000; AdvPreferredLifetime 604800; };",
      "};",
    ]);
    expect(section("desk/interface-settings", ...texts)).toContain("net/ipv6/conf/nic/accept_ra = 1");
    expect(section("shelf/interface-settings", ...texts).join()).not.toContain("accept_ra");
  });

  it("says who listens where", () => {
    const texts = row({ edge: "admin: { services: [tcp/22], listen: [left] }", shelf: "serves: { tcp/445: all }" });
    expect(section("edge/listeners", ...texts)[0]).toMatch(/^protocol 6 port 22 on 10\.31\.1\.1, fd31:1::1, fe80::/);
    expect(section("desk/listeners", ...texts)).toContain("protocol 6 port every port asked for on every address");
    expect(section("shelf/listeners", ...texts)).toEqual(["protocol 6 port 445 on every address"]);
  });
});

describe("path costs", () => {
  it("of bonds are set when they rest, by the members that carry and the slower ends of their cables", () => {
    const topology = `
devices:
  sw1: { is: switch, ports: { p1..2: 10G, up: 10G } }
  sw2: { is: switch, ports: { p1: 10G, p2: 1G, down: 1G } }
cables: [[sw1:p1, sw2:p1], [sw1:p2, sw2:p2], [sw1:up, sw2:down]]`;
    const intent = `
networks: { crew: { vlan: 30 } }
devices:
  sw1: { bonds: { pair: { members: [p1, p2], mode: static } }, switching: { spanning-tree: {}, ports: { pair: { untagged: crew } } } }`;
    const text = showKernel(planKernel(siteOf(topology, intent), "full"));
    expect(text).toContain("link set dev up type bridge_slave cost 20000 priority 32");
    expect(text).toMatch(/once bonds rest\nlink set dev pair type bridge_slave cost 1818 /);
  });
});

describe("rules", () => {
  const through = (rule: string) => rules(`filter: { through: { otherwise: drop, rules: [{ name: r, ${rule} }] } }`);

  it("name interfaces, states, sources, destinations, services and ports", () => {
    expect(
      through(
        "in: left, out: right, state: [new, established], source: 10.31.1.0/24, service: tcp/80-90, source-port: 1024-65535, action: accept",
      ),
    ).toEqual([
      'meta nfproto ipv4 iifname "left" oifname "right" ct state { new, established } ip saddr 10.31.1.0-10.31.1.255 meta l4proto 6 th dport 80-90 th sport 1024-65535 accept comment "r"',
    ]);
  });

  it("of several services become a run of rules", () => {
    expect(through("service: [udp/53, icmp/echo-request, icmp6], action: drop")).toEqual([
      'meta l4proto 17 th dport 53 drop comment "r"',
      'meta nfproto ipv4 meta l4proto 1 icmp type 8 drop comment "r"',
      'meta nfproto ipv6 meta l4proto 58 drop comment "r"',
    ]);
  });

  it("with addresses of both versions become one rule for each", () => {
    expect(through('source: [10.31.1.9, "fd31:1::9"], action: accept')).toEqual([
      'meta nfproto ipv4 ip saddr 10.31.1.9 accept comment "r"',
      'meta nfproto ipv6 ip6 saddr fd31:1::9 accept comment "r"',
    ]);
  });

  it("that can match nothing vanish", () => {
    expect(through('source: 10.31.1.9, dest: "fd31:2::9", action: accept')).toEqual([]);
    expect(through("family: ipv6, service: icmp, action: accept")).toEqual([]);
  });

  it("that reset have a second half for what is not TCP", () => {
    expect(through("action: reject, with: tcp-reset")).toEqual([
      'meta l4proto tcp reject with tcp reset comment "r"',
      'reject with icmpx type port-unreachable comment "r"',
    ]);
  });

  it("keep routers of IPv6 from sending redirects, and nobody else", () => {
    const texts = row();
    expect(section("edge/rules.nft: nft -f", ...texts).join("\n")).toContain(NO_REDIRECT);
    expect(section("desk/rules.nft: nft -f", ...texts)).toEqual([]);
    expect(section("edge/rules.nft: nft -f", ...row({ edge: 'forwarding: "off"' }))).toEqual([]);
  });

  it("translate by hook, and only packets of the new address's version", () => {
    expect(
      rules(`translate: {
        dest: [{ name: d, service: [tcp/80, udp/80], to: "fd31:2::9", to-port: 8080 }],
        source: [{ name: s, out: right, to: 10.31.2.5-10.31.2.7 }, { name: t, to: external-address, to-port: 2000-2999 }] }`),
    ).toEqual([
      'meta nfproto ipv6 meta l4proto 6 th dport 80 dnat ip6 to [fd31:2::9]:8080 comment "d"',
      'meta nfproto ipv6 meta l4proto 17 th dport 80 dnat ip6 to [fd31:2::9]:8080 comment "d"',
      'meta nfproto ipv4 oifname "right" snat ip to 10.31.2.5-10.31.2.7 comment "s"',
      'meta l4proto { tcp, udp } masquerade to :2000-2999 comment "t"',
    ]);
  });
});

describe("what namespaces cannot show here", () => {
  const whats = (...texts: readonly string[]) => planKernel(siteOf(...texts)).unsupported.map(({ what }) => what);
  const pair = (more: string, cables: string) => `
devices:
  one: { is: switch, ports: { p1..4: 1G } }
  two: { is: switch, ports: { p1..4: 1G } }
  box: { is: host, ports: { nic: 1G } }
cables: [[box:nic, one:p4], ${cables}]
${more}`;

  it("is nothing in a site of routers and plain switches", () => {
    expect(whats(...row())).toEqual([]);
  });

  it("is tagged frames on a cable", () => {
    const intent =
      "devices: { one: { switching: { ports: { p1: { tagged: [10] } } } }, box: { legs: { nic: { ipv4: 10.1.1.1/24, tag: 7 } } } }";
    expect(whats(pair("", "[one:p1, two:p1]"), intent)).toEqual([
      "tagged frames on `one:p1`",
      "tagged frames on `box/nic`",
    ]);
  });

  it("is a PPPoE session", () => {
    const intent = "devices: { box: { legs: { nic: { ipv4: 192.0.2.9/32, pppoe: yes } } } }";
    expect(whats(pair("", "[one:p1, two:p1]"), intent)).toEqual(["a PPPoE session on `box/nic`"]);
  });

  it("is a bond and a loop; not an address that nobody advertises", () => {
    const intent =
      "devices: { one: { bonds: { b: { members: [p1, p2], mode: static } } }, box: { legs: { nic: { ipv6: advertised } } } }";
    expect(whats(pair("", "[one:p1, two:p1], [one:p3, two:p3], [two:p2, two:p4]"), intent)).toEqual([
      "a bond of `one`",
      "a loop through the cable `two:p2`, `two:p4`",
    ]);
  });
});
