/**
 * Prefixes that a provider delegates (RFC 8415 section 6.3): a router asks on its uplink, cuts /64s from what it gets and
 * advertises them. Nobody knows the prefix beforehand, so one for documentation stands for it, and that is said.
 */
import { describe, expect, it } from "vitest";
import { formatAddress } from "../../src/address/index.ts";
import { judge, siteFrom, type TestSite } from "./verdicts.ts";

const RACK = `
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  edge: { is: router, ports: { wan: 1G, lan1..2: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  till: { is: host, ports: { nic: 1G } }
cables:
  - [carrier:drop, edge:wan]
  - [edge:lan1, desk:nic]
  - [edge:lan2, till:nic]
`;

type Changes = { readonly handed?: string; readonly edge?: string };

/** Two IPv6 networks behind a router that lets its networks out and answers in. */
function intentOf({ handed = "delegates: 56", edge = "" }: Changes): string {
  return `
networks:
  crew: { ipv6: { delegated: edge/wan, subnet: 1 } }
  shop: { ipv6: { delegated: edge, subnet: 2 } }
devices:
  carrier: { hands-out: { drop: { ipv6: "2001:db8:7100::/64", ${handed} } } }
  edge:
    interfaces:
      wan: { port: wan, ipv6: delegated }
      crew: { network: crew, port: lan1, host: 1 }
      shop: { network: shop, port: lan2, host: 1 }
    advertise: { crew: {}, shop: {} }
${edge}
  desk: { legs: { nic: { network: crew, ipv6: advertised } } }
  till: { legs: { nic: { network: shop, host: 7, gateway: edge/shop } }, serves: { tcp/443: all } }
`;
}

function site(changes: Changes = {}): TestSite {
  return siteFrom(RACK, intentOf(changes));
}

const ASSUMED = "carrier delegates a prefix to edge/wan, and 3fff:1::/56 stands for it";

const out = "from: desk, to: internet, service: tcp/443, expect: connects";
const FILTER = `    reverse-path: strict
    filter:
      to: { otherwise: accept }
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: out, in: crew, out: wan, action: accept }
      from: { otherwise: accept }`;

describe("a delegated prefix", () => {
  it("leads out and back, by the customer's address on the link", () => {
    expect(judge(site(), out)).toMatchObject([
      { status: "passed", assumptions: ["addresses of the internet answer every service", ASSUMED] },
    ]);
  });

  it("is told of by whoever looked at it, exchanges and proofs alike, and by nobody else", () => {
    const told = judge(
      site({ edge: FILTER }),
      "from: desk, to: till, expect: blocked",
      "from: internet, to: desk, expect: blocked",
      "from: internet, to: carrier, expect: arrives",
      "from: internet, to: edge/wan, expect: connects",
    );
    expect(told.map(({ assumptions }) => assumptions.includes(ASSUMED))).toEqual([true, true, false, false]);
  });

  it("keeps out what the internet sends on its own, and lets in what a rule accepts", () => {
    const open = FILTER.replace(
      "{ name: out,",
      "{ name: shop, in: wan, dest: till, action: accept }\n          - { name: out,",
    );
    const asked = ["from: internet, to: till, expect: blocked", "from: internet, to: desk, expect: blocked"];
    expect(judge(site({ edge: FILTER }), ...asked).map(({ status }) => status)).toEqual(["passed", "passed"]);
    const [shop, desk] = judge(site({ edge: open }), ...asked);
    expect([shop?.status, desk?.status]).toEqual(["failed", "passed"]);
    expect(shop?.packet).toContain("to 3fff:1:0:2::7 at edge:wan");
  });

  it("is reached by host numbers and by addresses that hosts form", () => {
    const told = judge(
      site(),
      "from: internet, to: till, service: tcp/443, expect: connects",
      "from: internet, to: desk, service: tcp/22, expect: connects",
      "from: desk, to: till, service: tcp/443, routed: always, expect: connects",
    );
    expect(told.map(({ status }) => status)).toEqual(["passed", "passed", "passed"]);
  });

  it("ends at the router where no network was cut from it", () => {
    const [rest] = judge(site(), 'from: desk, to: "3fff:1:0:3::1", expect: connects');
    expect(rest?.headline).toContain("edge");
    expect(rest).toMatchObject({ status: "failed", decided: ["56"] });
  });
});

describe("a router that takes its prefix by an uplink", () => {
  const inside = "from: desk, to: till, service: tcp/443, expect: connects";
  /** Nothing that says who is the router on the uplink gets in. */
  const deaf =
    "    filter: { to: { otherwise: accept, rules: [{ name: deaf, in: wan, service: icmp6/router-advertisement, action: drop }] } }";
  const routed = `${deaf}\n    routes: [{ to: default, via: "2001:db8:7100::1" }]`;

  it("is a default router to its hosts where it has one itself", () => {
    expect(judge(site(), inside)).toMatchObject([{ status: "passed" }]);
    expect(judge(site({ edge: routed }), inside)).toMatchObject([{ status: "passed" }]);
  });

  it("is none where it has none, and goes on advertising its prefix (RFC 7084 G-4)", () => {
    const near = "from: desk, to: edge/crew, service: icmp6/echo-request, expect: connects";
    expect(judge(site({ edge: deaf }), inside, near)).toMatchObject([{ status: "failed" }, { status: "passed" }]);
  });

  it("stays one where its lifetime is written: it is 0 by default only", () => {
    const intent = intentOf({ edge: deaf }).replace("crew: {}", "crew: { router-lifetime: 30m }");
    expect(judge(siteFrom(RACK, intent), inside)).toMatchObject([{ status: "passed" }]);
  });
});

describe("what is not delegated", () => {
  it("leaves networks without a prefix, for which the upstream's line is blamed", () => {
    const [told] = judge(site({ handed: "remembers: nobody" }), out);
    expect(told).toMatchObject({ status: "failed", decided: ["`delegates`", expect.any(String)] });
    expect(told?.headline).toContain("no prefix is delegated for it");
  });

  it("is no less lacking where nobody is reached", () => {
    const loose = siteFrom(RACK.replace("  - [carrier:drop, edge:wan]\n", ""), intentOf({}));
    expect(judge(loose, out)).toMatchObject([
      { status: "failed", decided: ["an upstream that delegates a prefix", expect.any(String)] },
    ]);
  });
});

/** A network with a prefix of each of two providers, and one of its own; `more`: what else the router is told. */
function ofTwoProviders(more = ""): ReturnType<typeof siteFrom> {
  return siteFrom(
    `
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  mobile: { is: upstream, ports: { mast: 1G } }
  edge: { is: router, ports: { wan: 1G, alt: 1G, lan1: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  till: { is: host, ports: { nic: 1G } }
  hub: { is: unmanaged-switch, ports: { p1..3: 1G } }
cables: [[carrier:drop, edge:wan], [mobile:mast, edge:alt], [edge:lan1, hub:p1], [hub:p2, desk:nic], [hub:p3, till:nic]]
`,
    `
networks:
  crew: { ipv6: [{ delegated: edge/wan, subnet: 1 }, { delegated: edge/alt, subnet: 1 }, "fd12:7::/64"] }
devices:
  carrier: { hands-out: { drop: { ipv6: "2001:db8:7100::/64", delegates: 56 } } }
  mobile: { hands-out: { mast: { ipv6: "2001:db8:7200::/64", delegates: 56 } } }
  edge:
    interfaces:
      wan: { port: wan, ipv6: delegated }
      alt: { port: alt, ipv6: delegated }
      crew: { network: crew, port: lan1, host: 1 }
    advertise: { crew: {} }
    ${more}
  desk: { legs: { nic: { network: crew, ipv6: advertised } } }
  till: { legs: { nic: { network: crew, host: 7, gateway: edge/crew } }, serves: { tcp/443: all } }
`,
  );
}

describe("prefixes of two providers on one network", () => {
  const both = ofTwoProviders();
  const own = ["3fff:1:0:1::1", "3fff:2:0:1::1", "fd12:7::1"];

  it("give the router an address in each, and whoever has a host number (RFC 7084 L-2, RFC 4291 section 2.1)", () => {
    const legs = both.network.stacks.flatMap(({ interfaces }) => interfaces);
    const of = (id: string): readonly string[] =>
      (legs.find((leg) => leg.id === id)?.addresses ?? [])
        .map(({ family, value }) => formatAddress({ family, value }))
        .filter((address) => !address.startsWith("fe80"));
    expect(of("edge/crew")).toEqual(own);
    expect(of("till/nic")).toEqual(own.map((address) => address.replace(/::1$/, "::7")));
  });

  it("lead out and back whichever the host sends from, and in by either", () => {
    const asked = [
      out,
      ...own.slice(0, 2).map((address) => `from: desk, to: "${address}", expect: connects`),
      'from: internet, to: "3fff:1:0:1::7", service: tcp/443, expect: connects',
      'from: internet, to: "3fff:2:0:1::7", service: tcp/443, expect: arrives',
    ];
    expect(judge(both, ...asked).map(({ status }) => status)).toEqual(asked.map(() => "passed"));
  });

  it("leave the others where one did not come", () => {
    const deaf =
      "filter: { to: { otherwise: accept, rules: [{ name: deaf, in: wan, service: udp/546, action: drop }] } }";
    const [told] = judge(ofTwoProviders(deaf), "from: till, to: internet, service: tcp/443, expect: connects");
    expect(told?.headline).toContain("nobody answers for 3fff:1:0:1::1 on the link of till");
  });
});
