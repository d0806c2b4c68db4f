/**
 * The internet between upstreams in the description: nothing of it where there is one, a link and routes by prefix where there are
 * several. What is public: RFC 1918, RFC 6598, RFC 6890.
 */
import { describe, expect, it } from "vitest";
import { formatPrefix } from "../../src/address/index.ts";
import { compile, recompile } from "../../src/compile/index.ts";
import { isBeyond, type Network } from "../../src/network/index.ts";
import { networkOf, siteOf } from "../support/site.ts";

type Upstreams = Readonly<Record<string, string>>;

/** A host at each upstream, which hands out as written. */
function texts(upstreams: Upstreams): readonly [string, string] {
  const names = Object.keys(upstreams);
  const rack = names.flatMap((name) => [
    `  ${name}: { is: upstream, ports: { drop: 1G } }`,
    `  at-${name}: { is: host, ports: { nic: 1G } }`,
  ]);
  return [
    ["devices:", ...rack, "cables:", ...names.map((name) => `  - [${name}:drop, at-${name}:nic]`), ""].join("\n"),
    [
      "devices:",
      ...names.map((name) => `  ${name}: { hands-out: { drop: { ${upstreams[name]} } } }`),
      ...names.map((name) => `  at-${name}: { legs: { nic: lease } }`),
      "",
    ].join("\n"),
  ];
}

const CARRIER = "ipv4: 203.0.113.0/24, hosts: 100-110";
const MOBILE = 'ipv4: 198.51.100.0/24, hosts: 100-110, ipv6: "2001:db8:7200::/64"';

/** Prefixes that an upstream leads to others, each with the way. */
function ledFrom(device: string, network: Network): readonly string[] {
  const table = network.tables.find(({ id }) => id === `${device}/routes`);
  const routes = table?.kind === "routes" ? table.routes : [];
  return routes.flatMap(({ family, prefix, length, action }) => {
    const egress = action.do === "forward" ? action.hops[0]?.egress : undefined;
    if (egress === undefined || !isBeyond(egress)) return [];
    return [`${formatPrefix({ family, value: prefix, length })} by ${egress}`];
  });
}

const parts = (network: Network): readonly string[] =>
  [...network.ports, ...network.links, ...network.stacks.flatMap(({ interfaces }) => interfaces)]
    .map(({ id }) => id)
    .filter(isBeyond);

describe("the internet of a site", () => {
  it("is not there with one upstream, which is a router to its own customers", () => {
    const network = networkOf(...texts({ carrier: CARRIER }));
    expect(parts(network)).toEqual([]);
    expect(ledFrom("carrier", network)).toEqual([]);
    const carrier = network.stacks.find(({ device }) => device === "carrier");
    expect(carrier?.onward.map(({ op }) => op)).toEqual([
      "require",
      "hop-limit",
      "require",
      "fit",
      "fit",
      "neighbour",
      "transmit",
    ]);
    expect(carrier?.received.map(({ op }) => op)).toEqual(["route"]);
  });

  it("leads what an upstream hands out to it from every other one", () => {
    const network = networkOf(...texts({ carrier: CARRIER, mobile: MOBILE }));
    expect(ledFrom("carrier", network)).toEqual([
      "198.51.100.0/24 by carrier/~internet/mobile",
      "2001:db8:7200::/64 by carrier/~internet/mobile",
    ]);
    expect(ledFrom("mobile", network)).toEqual(["203.0.113.0/24 by mobile/~internet/carrier"]);
    expect(parts(network)).toEqual([
      "carrier:~internet/mobile",
      "mobile:~internet/carrier",
      "carrier:~internet/mobile--mobile:~internet/carrier",
      "carrier/~internet/mobile",
      "mobile/~internet/carrier",
    ]);
  });

  it("joins each two of three", () => {
    const network = networkOf(...texts({ carrier: CARRIER, mobile: MOBILE, dish: "ipv4: 192.0.2.0/24" }));
    expect(network.links.filter(({ kind }) => kind === "internet")).toHaveLength(3);
    expect(ledFrom("dish", network)).toHaveLength(3);
  });

  it.each([
    ["private (RFC 1918)", "ipv4: 192.168.1.0/24"],
    ["shared (RFC 6598)", "ipv4: 100.64.0.0/10"],
    ["unique local (RFC 4193)", 'ipv6: "fd12:7::/64"'],
  ])("leads nobody to a prefix that is %s, and its upstream to others all the same", (_, handed) => {
    const network = networkOf(...texts({ carrier: CARRIER, box: handed }));
    expect(ledFrom("carrier", network)).toEqual([]);
    expect(ledFrom("box", network)).toEqual(["203.0.113.0/24 by box/~internet/carrier"]);
  });

  it("leaves to each of two what both hand out", () => {
    const network = networkOf(...texts({ carrier: CARRIER, twin: "ipv4: 203.0.113.0/25", dish: "ipv4: 192.0.2.0/24" }));
    expect(ledFrom("carrier", network)).toEqual(["192.0.2.0/24 by carrier/~internet/dish"]);
    expect(ledFrom("twin", network)).toEqual([
      "203.0.113.128/25 by twin/~internet/carrier",
      "192.0.2.0/24 by twin/~internet/dish",
    ]);
    expect(ledFrom("dish", network)[0]).toBe("203.0.113.0/25 by dish/~internet/twin");
  });

  it("is not there where nobody serves anything public", () => {
    expect(parts(networkOf(...texts({ one: "ipv4: 192.168.1.0/24", other: "ipv4: 192.168.1.0/24" })))).toEqual([]);
  });

  it("leads to a delegated prefix, too (RFC 8415 section 6.3)", () => {
    const network = networkOf(
      `devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  mobile: { is: upstream, ports: { drop: 1G } }
  gw: { is: router, ports: { wan: 1G, lan: 1G } }
cables: [[carrier:drop, gw:wan]]
`,
      `networks: { home: { ipv6: { delegated: gw/wan, subnet: 1 } } }
devices:
  carrier: { hands-out: { drop: { ipv6: "2001:db8:7100::/64", delegates: 56 } } }
  mobile: { hands-out: { drop: { ipv4: 198.51.100.0/24 } } }
  gw: { interfaces: { wan: { port: wan, ipv6: delegated }, home: { network: home, port: lan, host: 1 } } }
`,
    );
    expect(ledFrom("mobile", network)).toEqual([
      "2001:db8:7100::/64 by mobile/~internet/carrier",
      "3fff:1::/56 by mobile/~internet/carrier",
    ]);
  });
});

describe("an edit of what upstreams hand out", () => {
  const one = { carrier: CARRIER };
  const two = { carrier: CARRIER, mobile: MOBILE };
  const moved = { carrier: CARRIER, mobile: "ipv4: 192.0.2.0/24" };
  const hidden = { carrier: CARRIER, mobile: "ipv4: 192.168.1.0/24" };
  it.each([
    ["one comes", one, two],
    ["one goes", two, one],
    ["one changes its prefix", two, moved],
    ["one hands out private addresses from now on", two, hidden],
    ["one hands out public ones from now on", hidden, two],
  ])("is what compiling anew gives: %s", (_, before, after) => {
    const site = siteOf(...texts(after));
    expect(recompile(networkOf(...texts(before)), site)).toEqual(compile(site));
  });
});
