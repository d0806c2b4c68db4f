/**
 * `bandwidth`: what one flow gets at least on the ways of an exchange. The site: two switches on a bond of two cables, a desk
 * and a vault at them, a phone on the air, a router with an uplink.
 *
 *     desk --- west ===bond=== east --- vault     west --- mill --- carrier, west --- loft ~~~ phone
 */
import { describe, expect, it } from "vitest";
import { check, judge, siteFrom, type TestSite } from "./verdicts.ts";

type Changes = {
  /** Cables of the bond. */
  readonly trunk?: string;
  /** Ports of the vault. */
  readonly vault?: string;
  /** The desk's cable. */
  readonly desk?: string;
  /** Rate of the upstream's socket. */
  readonly drop?: string;
  /** Rate of the access point's socket. */
  readonly up?: string;
  /** Members of the bond share flows. */
  readonly mode?: string;
};

function hall({
  trunk = "  - [west:x1, east:x1]\n  - [west:x2, east:x2]",
  vault = "{ nic: 10G }",
  desk = "[west:p1, desk:nic]",
  drop = "1G",
  up = "2.5G",
  mode = "static",
}: Changes = {}): TestSite {
  const bond = `bonds: { pair: { members: [x1, x2], mode: ${mode} } }`;
  return siteFrom(
    `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: ${drop} } }
  mill: { is: router, ports: { wan: 10G, lan: 10G } }
  west: { is: switch, ports: { p1..4: 10G, x1..2: 10G } }
  east: { is: switch, ports: { p1..4: 10G, x1: 10G, x2: 2.5G } }
  loft: { is: access-point, ports: { up: ${up} }, radios: [air] }
  phone: { is: host, radios: [wlan] }
  desk: { is: host, ports: { nic: 10G } }
  vault: { is: host, ports: ${vault} }
cables:
${trunk}
  - ${desk}
  - [east:p1, vault:nic]
  - [west:p2, mill:lan]
  - [west:p3, loft:up]
  - [mill:wan, carrier:drop]
`,
    `dryrack: intent/1
networks:
  work: { vlan: 10, ipv4: 10.1.0.0/24 }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }
  mill: { interfaces: { wan: { port: wan, ipv4: lease }, work: { network: work, port: lan, host: 1 } }, dhcp: { work: { hosts: 100-199 } }, translate: { source: [{ name: hide, family: ipv4, out: wan, to: external-address }] } }
  west: { ${bond}, switching: { ports: { pair: { untagged: work }, p1..4: { untagged: work } } } }
  east: { ${bond}, switching: { ports: { pair: { untagged: work }, p1..4: { untagged: work } } } }
  loft: { ssids: { Hall: { radio: air, network: work } }, switching: { ports: { up: { untagged: work } } } }
  phone: { joins: Hall, legs: { wlan: lease } }
  desk: { legs: { nic: { network: work, host: 10, gateway: 10.1.0.1 } } }
  vault: { legs: { nic: { network: work, host: 20, gateway: 10.1.0.1 } }, serves: { tcp/445: [nic] } }
`,
  );
}

function asked(site: TestSite, rate: string, ends = "from: desk, to: vault, service: tcp/445", rest = "") {
  const [told] = judge(site, `${ends}, expect: connects, bandwidth: at least ${rate}${rest}`);
  if (told === undefined) throw new Error("nothing was judged");
  return told;
}

const INTERNET = "from: desk, to: internet";
const PLAIN = { trunk: "  - [west:x1, east:x1]" };

describe("the bottleneck of a way", () => {
  it("is told of what holds", () => {
    const told = asked(hall(PLAIN), "10G");
    expect(told).toMatchObject({
      status: "passed",
      verdict: { bottleneck: { rateMbps: 10_000, way: "there", link: "west:p1--desk:nic" } },
    });
    expect(told.headline).toMatch(/; the bottleneck is the cable west:p1 - desk:nic with 10G$/);
  });

  it("is the slower end of a cable, with its line", () => {
    const told = asked(hall({ ...PLAIN, vault: "{ nic: 1G }" }), "2.5G");
    expect(told).toMatchObject({
      status: "failed",
      headline: "desk to vault on tcp/445: only 1G gets through the cable east:p1 - vault:nic",
      decided: ["nic: 1G", "[east:p1, vault:nic]"],
      verdict: { help: "vault:nic would have to carry 2.5G", bottleneck: { rateMbps: 1000 } },
    });
    expect(told.path.length).toBeGreaterThan(3);
  });

  it("is a cable that carries less than its ports", () => {
    const desk = "{ ends: [west:p1, desk:nic], rate: 100M }";
    const told = asked(hall({ ...PLAIN, desk }), "1G");
    expect(told).toMatchObject({
      status: "failed",
      headline: expect.stringMatching(/only 100M gets through the cable west:p1 - desk:nic$/),
      verdict: { help: "the cable west:p1 - desk:nic would have to carry 1G" },
    });
    expect(told.decided[0]).toBe(desk);
  });

  it("is an upstream's socket, beyond which nothing is known", () => {
    const told = asked(hall({ ...PLAIN, drop: "500M" }), "500M", INTERNET);
    expect(told).toMatchObject({
      status: "passed",
      headline: expect.stringMatching(/mill:wan - carrier:drop with 500M$/),
      assumptions: expect.arrayContaining(["what lies behind carrier is taken to be as fast as its port"]),
    });
    expect(asked(hall({ ...PLAIN, drop: "500M" }), "1G", INTERNET).decided[0]).toBe("drop: 500M");
  });

  it("is not the made-up rate of a client that was just plugged in", () => {
    const ends = "from: work, to: vault, service: tcp/445";
    const [told] = judge(hall(PLAIN), `${ends}, expect: connects, bandwidth: at least 2G`);
    // The phone is in that network, too.
    expect(told).toMatchObject({ status: "undecided" });
    const fresh = told?.cells.find(({ from }) => from.startsWith("a new client"));
    expect(fresh).toMatchObject({ status: "passed" });
  });
});

describe("a bond", () => {
  it("gives one flow one member, whichever that is", () => {
    const told = asked(hall(), "10G");
    expect(told).toMatchObject({
      status: "failed",
      headline:
        "desk to vault on tcp/445: only 2.5G gets through the cable west:x2 - east:x2, one flow takes one member of west:pair",
      verdict: { help: "more members give one flow no more: east:x2 would have to carry 10G" },
    });
    expect(told.decided[0]).toBe("x2: 2.5G");
  });

  it("is asked for the slowest member where all are fast enough", () => {
    expect(asked(hall(), "2.5G")).toMatchObject({ status: "passed", verdict: { bottleneck: { rateMbps: 2500 } } });
  });

  it("of which one member stands by is the one that carries, and without it the other", () => {
    const site = hall({ mode: "active-backup" });
    expect(asked(site, "10G")).toMatchObject({ status: "passed" });
    const told = asked(site, "10G", undefined, ", survives: { one-of: bond-members }");
    expect(told).toMatchObject({
      status: "failed",
      verdict: { breaks: [{ without: ["the cable west:x1 - east:x1"] }] },
    });
    expect(told.headline).toMatch(
      /^without the cable west:x1 - east:x1: desk to vault on tcp.445: only 2.5G gets through/,
    );
  });
});

describe("a radio", () => {
  const AIR = "from: phone, to: vault, service: tcp/445";

  it("has no known rate, so that nobody can tell", () => {
    const told = asked(hall(PLAIN), "100M", AIR);
    expect(told).toMatchObject({
      status: "undecided",
      limit: expect.stringMatching(/^the rate of the radio link phone:wlan - .* is not known$/),
      decided: ["Hall"],
    });
  });

  it("hides no cable that is too slow anyway", () => {
    const told = asked(hall({ ...PLAIN, up: "100M" }), "1G", AIR);
    expect(told).toMatchObject({ status: "failed", headline: expect.stringMatching(/only 100M gets through/) });
    expect(told.decided[0]).toBe("up: 100M");
  });
});

/** Two networks with two routers between them, one of which is slow. */
const TWO_WAYS = `dryrack: topology/1
devices:
  near: { is: switch, ports: { p1..4: 1G } }
  far: { is: switch, ports: { p1..4: 1G } }
  fast: { is: router, ports: { l1..2: 1G } }
  slow: { is: router, ports: { l1: 1G, l2: 10M } }
  desk: { is: host, ports: { nic: 1G } }
  vault: { is: host, ports: { nic: 1G } }
cables: [[near:p1, desk:nic], [near:p2, fast:l1], [near:p3, slow:l1], [far:p1, vault:nic], [far:p2, fast:l2], [far:p3, slow:l2]]
`;

describe("the way back", () => {
  /** Two routers between two networks; the server's way back is the slow one. */
  const site = siteFrom(
    TWO_WAYS,
    `dryrack: intent/1
networks: { a: { ipv4: 10.1.0.0/24 }, b: { ipv4: 10.2.0.0/24 } }
devices:
  fast: { interfaces: { a: { network: a, port: l1, host: 1 }, b: { network: b, port: l2, host: 1 } } }
  slow: { interfaces: { a: { network: a, port: l1, host: 2 }, b: { network: b, port: l2, host: 2 } } }
  desk: { legs: { nic: { network: a, host: 10, gateway: 10.1.0.1 } } }
  vault: { legs: { nic: { network: b, host: 10, gateway: 10.2.0.2 } } }
`,
  );

  it("counts for a whole exchange", () => {
    expect(asked(site, "1G", "from: desk, to: vault")).toMatchObject({
      status: "failed",
      verdict: { bottleneck: { rateMbps: 10, way: "back" } },
      decided: ["l2: 10M", "[far:p3, slow:l2]"],
    });
  });

  it("does not count for what only has to arrive", () => {
    const [told] = judge(site, "from: desk, to: vault, expect: arrives, bandwidth: at least 1G");
    expect(told).toMatchObject({ status: "passed", verdict: { bottleneck: { rateMbps: 1000, way: "there" } } });
  });
});

describe("a cable that a way takes twice", () => {
  it("gives it half", () => {
    // To b by way of r1, which is behind the trunk, and of r2, which is not.
    const site = siteFrom(
      `dryrack: topology/1
devices:
  west: { is: switch, ports: { p1..3: 10G, trunk: 1G } }
  east: { is: switch, ports: { p1..3: 10G, trunk: 1G } }
  r1: { is: router, ports: { l1: 10G } }
  r2: { is: router, ports: { l1: 10G } }
  desk: { is: host, ports: { nic: 10G } }
  vault: { is: host, ports: { nic: 10G } }
cables: [[west:trunk, east:trunk], [west:p1, desk:nic], [west:p2, r2:l1], [east:p1, vault:nic], [east:p2, r1:l1]]
`,
      `dryrack: intent/1
networks: { a: { vlan: 1, ipv4: 10.1.0.0/24 }, m: { vlan: 2, ipv4: 10.2.0.0/24 }, b: { vlan: 3, ipv4: 10.3.0.0/24 } }
port-roles: { trunked: { tagged: [a, m, b], admit: tagged } }
devices:
  west: { switching: { ports: { trunk: trunked, p1: { untagged: a }, p2: trunked } } }
  east: { switching: { ports: { trunk: trunked, p1: { untagged: b }, p2: trunked } } }
  r1:
    switching: { ports: { l1: trunked }, own: { tagged: [a, m] } }
    interfaces: { a: { network: a, host: 1 }, m: { network: m, host: 1 } }
    routes: [{ to: 10.3.0.0/24, via: 10.2.0.2 }]
  r2:
    switching: { ports: { l1: trunked }, own: { tagged: [m, b] } }
    interfaces: { m: { network: m, host: 2 }, b: { network: b, host: 2 } }
    routes: [{ to: 10.1.0.0/24, via: 10.2.0.1 }]
  desk: { legs: { nic: { network: a, host: 10, gateway: 10.1.0.1 } } }
  vault: { legs: { nic: { network: b, host: 10, gateway: 10.3.0.2 } } }
`,
    );
    expect(asked(site, "1G", "from: desk, to: vault")).toMatchObject({
      status: "failed",
      headline:
        "desk to vault on echo: only 500M gets through the cable west:trunk - east:trunk, which is passed 2 times",
    });
    expect(asked(site, "500M", "from: desk, to: vault")).toMatchObject({ status: "passed" });
  });
});

describe("a tunnel", () => {
  const site = (more = ""): TestSite =>
    siteFrom(
      `dryrack: topology/1
devices:
  north: { is: upstream, ports: { drop: 200M } }
  south: { is: upstream, ports: { drop: 1G } }
  mill: { is: router, ports: { wan: 1G, lan: 1G } }
  dock: { is: router, ports: { wan: 1G, lan: 1G } }
  loom: { is: host, ports: { nic: 1G } }
  crane: { is: host, ports: { nic: 1G } }
cables: [[north:drop, mill:wan], [south:drop, dock:wan], [mill:lan, loom:nic], [dock:lan, crane:nic]]
`,
      `dryrack: intent/1
networks: { weaving: { ipv4: 10.60.1.0/24 }, freight: { ipv4: 10.60.2.0/24 } }
devices:
  north: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }
  south: { hands-out: { drop: { ipv4: 198.51.100.0/24, router: 198.51.100.1, hosts: 100-110 } } }
  mill:
    interfaces: { wan: { port: wan, ipv4: lease }, weaving: { network: weaving, port: lan, host: 1 }, far: { port: link, ipv4: 10.99.0.2/24 } }
    routes: [{ to: 10.60.2.0/24, out: far }]
    tunnels: { link: { peers: { dock/link: { endpoint: 198.51.100.2, allowed: [10.99.0.1, 10.60.2.0/24] } } } }
  dock:
    interfaces: { wan: { port: wan, ipv4: 198.51.100.2/24, gateway: 198.51.100.1 }, freight: { network: freight, port: lan, host: 1 }, far: { port: link, ipv4: 10.99.0.1/24 } }
    routes: [{ to: 10.60.1.0/24, out: far }]
    tunnels: { link: { listen: 4701, peers: { mill/link: { allowed: [10.99.0.2, 10.60.1.0/24] } } } }
  loom: { legs: { nic: { network: weaving, host: 9, gateway: mill/weaving } } }
  crane: { legs: { nic: { network: freight, host: 9, gateway: dock/freight } } }
${more}`,
    );

  it("carries what the ways of its outer packets carry, either way", () => {
    for (const ends of ["from: loom, to: crane", "from: crane, to: loom"]) {
      expect(asked(site(), "1G", ends)).toMatchObject({
        status: "failed",
        headline: expect.stringMatching(/only 200M gets through the cable north:drop - mill:wan$/),
      });
      expect(asked(site(), "200M", ends)).toMatchObject({
        status: "passed",
        assumptions: expect.arrayContaining(["what lies behind north is taken to be as fast as its port"]),
      });
    }
  });
});

describe("an end with two families", () => {
  it("must get the rate by each that works, since nobody knows which one is taken", () => {
    // IPv6 goes by the slow router.
    const site = siteFrom(
      TWO_WAYS,
      `dryrack: intent/1
networks: { a: { ipv4: 10.1.0.0/24, ipv6: "fd00:0:0:1::/64" }, b: { ipv4: 10.2.0.0/24, ipv6: "fd00:0:0:2::/64" } }
devices:
  fast: { interfaces: { a: { network: a, port: l1, host: 1 }, b: { network: b, port: l2, host: 1 } } }
  slow: { interfaces: { a: { network: a, port: l1, host: 2 }, b: { network: b, port: l2, host: 2 } } }
  desk: { legs: { nic: { network: a, host: 10, gateway: [10.1.0.1, "fd00:0:0:1::2"] } } }
  vault: { legs: { nic: { network: b, host: 10, gateway: [10.2.0.1, "fd00:0:0:2::2"] } } }
`,
    );
    expect(asked(site, "1G", "from: desk, to: vault")).toMatchObject({
      status: "failed",
      packet: expect.stringMatching(/^icmp6/),
      headline: expect.stringMatching(/only 10M gets through/),
    });
    expect(asked(site, "10M", "from: desk, to: vault")).toMatchObject({ status: "passed" });
  });
});

describe("where it is asked for", () => {
  it("may be with `only`, for the services that connect", () => {
    const [told] = judge(
      hall({ ...PLAIN, vault: "{ nic: 1G }" }),
      "from: desk, to: vault, service: tcp/445, expect: only, bandwidth: at least 10G",
    );
    expect(told).toMatchObject({ status: "failed" });
  });

  it("has no meaning where nothing is to get through, or nobody begins", () => {
    const { diagnostics } = check(hall(), [
      "from: desk, to: vault, expect: blocked, bandwidth: at least 1G",
      "lease: { client: phone }, bandwidth: at least 1G",
    ]);
    expect(diagnostics.map(({ message }) => message)).toEqual([
      "`bandwidth` has no meaning with `expect: blocked`",
      "`bandwidth` has no meaning beside `lease`",
    ]);
  });

  it.each([
    ["1G", "bad-rate", "write `at least 1G`"],
    ["at most 1G", "bad-rate", "write `at least 1G`"],
    ["at least 1000", "unit-missing", "write `1G` if Mbit/s are meant"],
    ["at least fast", "bad-rate", undefined],
    ["plenty", "bad-rate", undefined],
  ])("is not `%s`", (text, code, help) => {
    const { diagnostics } = check(hall(), [`from: desk, to: vault, expect: connects, bandwidth: ${text}`]);
    expect(diagnostics).toMatchObject([{ code, ...(help === undefined ? {} : { help }) }]);
  });

  it("leaves an exchange that does not work what it is", () => {
    const told = asked(hall({ trunk: "" }), "1G", "from: desk, to: vault, service: tcp/445");
    expect(told).toMatchObject({ status: "failed", headline: expect.not.stringMatching(/gets through/) });
    expect(told.verdict.bottleneck).toBeUndefined();
  });
});
