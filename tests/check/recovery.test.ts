/**
 * `recovers: from-dark`: what must come back after everything was off, in whatever order it is started. Each case is a site in
 * which one thing depends on who was there first, and its like in which nothing does.
 */
import { describe, expect, it } from "vitest";
import { otherwiseAfter } from "../../src/check/recovery-words.ts";
import { Evaluation, Starts } from "../../src/evaluate/index.ts";
import { judge, siteFrom, type TestSite } from "./verdicts.ts";

type Office = {
  /** Further devices of the topology. */
  readonly rack?: string;
  /** Further cables. */
  readonly cables?: string;
  /** What mill lends. */
  readonly dhcp?: string;
  /** Rules of mill. */
  readonly mill?: string;
  /** Further devices of the intent. */
  readonly intent?: string;
  /** Further networks. */
  readonly networks?: string;
};

/** A router that lends, a switch, two clients and a till. */
function office({
  rack = "",
  cables = "",
  dhcp = "hosts: 100-199",
  mill = "",
  intent = "",
  networks = "",
}: Office = {}): TestSite {
  return siteFrom(
    `dryrack: topology/1
devices:
  mill: { is: router, ports: { l1..2: 1G } }
  hub: { is: switch, ports: { p1..8: 1G } }
  clerk: { is: host, ports: { nic: 1G } }
  typist: { is: host, ports: { nic: 1G } }
  till: { is: host, ports: { nic: 1G } }
${rack}
cables:
  - [mill:l1, hub:p1]
  - [hub:p2, clerk:nic]
  - [hub:p3, typist:nic]
  - [hub:p4, till:nic]
${cables}
`,
    `dryrack: intent/1
networks:
  office: { ipv4: 10.1.0.0/24 }
${networks}
devices:
  mill:
    interfaces: { office: { network: office, port: l1, host: 1 } }
    dhcp: { office: { ${dhcp}, lease: 12h } }
${mill}
  clerk: { legs: { nic: lease } }
  typist: { legs: { nic: lease } }
  till: { legs: { nic: { network: office, host: 10, gateway: none } } }
${intent}
`,
  );
}

function asked(site: TestSite, what: string) {
  const [told] = judge(site, `${what}, recovers: from-dark`);
  if (told === undefined) throw new Error("nothing was judged");
  return told;
}

const TILL = "from: clerk, to: till, expect: connects";

describe("a site in which nothing depends on who starts first", () => {
  it("recovers, and says in how many orders, and who waited for whom", () => {
    const told = asked(office(), TILL);
    expect(told).toMatchObject({
      status: "passed",
      headline: expect.stringMatching(/; recovers from dark in each of 3 orders of starting$/),
      verdict: {
        recovery: {
          orders: 3,
          contests: [],
          waits: expect.arrayContaining([{ device: "clerk", for: "mill", what: "its address" }]),
        },
      },
    });
    expect(told.verdict.recovery?.starts).toBeUndefined();
  });

  it("is not asked where the assertion does not hold at rest", () => {
    const told = asked(office(), "from: clerk, to: till, expect: blocked");
    expect(told).toMatchObject({ status: "failed" });
    expect(told.verdict.recovery).toBeUndefined();
  });

  it("is asked of what is blocked, of leases, segments and policies alike", () => {
    expect(asked(office(), "from: clerk, to: 192.0.2.1, expect: blocked, even-if: cut-off").status).toBe("passed");
    expect(asked(office(), "lease: { client: clerk }").status).toBe("passed");
    expect(asked(office(), "segment: { network: office, ports: [mill:l1] }").status).not.toBe("undecided");
  });
});

describe("a pool that is too small", () => {
  it("leaves out whoever starts last", () => {
    const told = asked(office({ dhcp: "hosts: 100-100" }), TILL);
    expect(told).toMatchObject({
      status: "failed",
      headline: expect.stringMatching(
        /^from dark, when clerk starts after the others: clerk to till on echo: clerk got no address/,
      ),
      verdict: {
        help: "a larger pool, or a reservation for clerk, would give it an address whoever starts first",
        recovery: {
          starts: [["mill", "hub", "typist", "till"], ["clerk"]],
          otherwise: [expect.stringMatching(/^clerk gets no address: /)],
          contests: ["who of clerk, typist gets one of 1 addresses"],
        },
      },
    });
  });

  it("does not matter to who has an address of its own there", () => {
    const dhcp = "hosts: 100-100, reservations: { clerk: 50 }";
    expect(asked(office({ dhcp }), TILL)).toMatchObject({ status: "passed", verdict: { recovery: { contests: [] } } });
  });
});

describe("addresses that are told apart", () => {
  const filter = (dest: string): string =>
    `    filter: { to: { otherwise: drop, rules: [{ name: leases, service: udp/67, action: accept }, { name: one, source: ${dest}, action: accept }] }, through: { otherwise: accept }, from: { otherwise: accept } }`;

  it("are who starts first, where a rule lets one of them pass", () => {
    const told = asked(
      office({ mill: filter("10.1.0.100"), dhcp: "hosts: 100-101, order: lowest-first" }),
      "from: clerk, to: mill, expect: connects",
    );
    expect(told).toMatchObject({
      status: "failed",
      verdict: {
        recovery: {
          starts: [["mill", "hub", "typist", "till"], ["clerk"]],
          otherwise: expect.arrayContaining(["clerk has 10.1.0.101"]),
        },
        help: expect.stringMatching(/^a reservation would give clerk one address/),
      },
    });
  });

  it("do not matter where the rule takes the whole pool", () => {
    const told = asked(
      office({ mill: filter("10.1.0.0/25"), dhcp: "hosts: 100-101" }),
      "from: clerk, to: mill, expect: connects",
    );
    expect(told).toMatchObject({ status: "passed", verdict: { recovery: { contests: [] } } });
  });

  it("count where the assertion itself tells them apart", () => {
    const told = asked(
      office({ dhcp: "hosts: 100-199, order: lowest-first" }),
      "lease: { client: clerk, address: 10.1.0.100 }",
    );
    expect(told).toMatchObject({ status: "failed" });
  });
});

describe("two servers", () => {
  const second = (host: string): Office => ({
    rack: "  attic: { is: router, ports: { l1: 1G } }",
    cables: "  - [hub:p5, attic:l1]",
    networks: "  loft: { ipv4: 10.2.0.0/24 }",
    intent: `  attic: { interfaces: { ${host} }, dhcp: { x: { hosts: 200-210 } } }`,
  });

  it("lend what whoever starts first lends", () => {
    const site = office(second("x: { network: loft, port: l1, host: 2 }"));
    // At rest either may answer first: then it fails already there.
    const told = asked(site, TILL);
    expect(told.status).toBe("failed");
    expect(told.verdict.recovery).toBeUndefined();
  });

  it("do not matter where both lend the same", () => {
    const told = asked(office(second("x: { network: office, port: l1, host: 2 }")), TILL);
    expect(told).toMatchObject({
      status: "passed",
      verdict: {
        recovery: { contests: expect.arrayContaining(["which of attic and mill gives clerk/nic its address"]) },
      },
    });
  });
});

describe("what is otherwise after a start", () => {
  it("is told beside the site at rest in which clients take the same servers", () => {
    const { network } = office({
      rack: "  attic: { is: router, ports: { l1: 1G } }",
      cables: "  - [hub:p5, attic:l1]",
      intent: "  attic: { interfaces: { x: { network: office, port: l1, host: 2 } }, dhcp: { x: { hosts: 200-210 } } }",
    });
    const evaluation = new Evaluation(network);
    const { starts } = new Starts(evaluation).after([["mill", "attic", "hub", "typist", "till"], ["clerk"]]);
    // Each of two clients may take either server.
    expect(starts).toHaveLength(4);
    for (const start of starts) {
      const told = otherwiseAfter(start, evaluation).map(({ text }) => text);
      expect(told.filter((text) => text.includes("is given its address by"))).toEqual([]);
    }
  });
});

describe("a bond whose members lead to two devices", () => {
  /** The desk is on two switches, of which only one carries its network on. */
  const site = (west: string): TestSite =>
    siteFrom(
      `dryrack: topology/1
devices:
  core: { is: switch, ports: { p1..4: 1G } }
  east: { is: switch, ports: { p1..4: 1G } }
  west: { is: switch, ports: { p1..4: 1G } }
  desk: { is: host, ports: { a: 1G, b: 1G } }
  vault: { is: host, ports: { nic: 1G } }
cables: [[core:p1, east:p1], [core:p2, west:p1], [east:p2, desk:a], [west:p2, desk:b], [core:p3, vault:nic]]
`,
      `dryrack: intent/1
networks: { work: { vlan: 10, ipv4: 10.1.0.0/24 } }
devices:
  core: { switching: { unlisted: "off", ports: { p1..2: { tagged: [work] }, p3: { untagged: work } } } }
  east: { switching: { unlisted: "off", ports: { p1: { tagged: [work] }, p2: { untagged: work } } } }
  west: { switching: { unlisted: "off", ports: { p1: { ${west} }, p2: { untagged: work } } } }
  desk: { bonds: { pair: { members: [a, b], mode: active-backup } }, legs: { pair: { network: work, host: 10, gateway: none } } }
  vault: { legs: { nic: { network: work, host: 20, gateway: none } } }
`,
    );
  const REACH = "from: desk, to: vault, expect: connects";

  it("stays with whichever was there first", () => {
    const told = asked(site("untagged: 99"), REACH);
    expect(told).toMatchObject({
      status: "failed",
      headline: expect.stringMatching(/^from dark, when east starts after the others: desk to vault on echo: /),
      verdict: {
        recovery: {
          starts: [["core", "west", "desk", "vault"], ["east"]],
          otherwise: expect.arrayContaining(["desk:pair carries by b"]),
          contests: ["which of east and west carries for desk:pair"],
        },
        help: "lead all members of desk:pair to one device, or let each of its far ends do as well",
      },
    });
  });

  it("may stay with either where both do as well", () => {
    const told = asked(site("tagged: [work]"), REACH);
    expect(told).toMatchObject({
      status: "passed",
      headline: expect.stringMatching(/in each of \d+ orders of starting$/),
    });
  });
});

describe("what is powered by others", () => {
  it("comes on when they do, in whatever order", () => {
    const told = asked(
      office({
        rack: "  cam: { is: host, ports: { nic: 1G }, powered-by: [hub:p6] }",
        cables: "  - [hub:p6, cam:nic]",
        intent: "  cam: { legs: { nic: lease } }",
      }),
      "from: clerk, to: cam, expect: connects",
    );
    expect(told).toMatchObject({ status: "passed" });
    expect(told.verdict.recovery?.waits).toContainEqual({ device: "cam", for: "hub", what: "its power" });
  });
});

describe("beside `survives`", () => {
  it("is asked of what survives", () => {
    const told = asked(office(), `${TILL}, survives: { one-of: [servers] }`);
    expect(told).toMatchObject({ status: "failed", verdict: { breaks: [{ without: [expect.any(String)] }] } });
    expect(told.verdict.recovery).toBeUndefined();
    const both = asked(office(), "from: till, to: mill, expect: connects, survives: { one-of: [servers] }");
    expect(both).toMatchObject({
      status: "passed",
      headline: expect.stringMatching(
        /; survives the one failure; recovers from dark in each of 3 orders of starting$/,
      ),
    });
  });
});

describe("more orders than can be tried", () => {
  const crowd = (address: string): string => `lease: { client: clerk, address: ${address} }`;
  const names = ["h1", "h2", "h3", "h4"];
  const site = (dhcp: string): TestSite =>
    office({
      dhcp,
      rack: names.map((name) => `  ${name}: { is: host, ports: { nic: 1G } }`).join("\n"),
      cables: names.map((name, index) => `  - [hub:p${index + 5}, ${name}:nic]`).join("\n"),
      intent: names.map((name) => `  ${name}: { legs: { nic: lease } }`).join("\n"),
    });

  it("leave it undecided where one of them could matter", () => {
    // Whoever comes fifth gets the odd one: neither the first nor the last.
    const told = asked(site("hosts: 100-149, order: lowest-first"), crowd("10.1.0.100-140"));
    expect(told.status).toBe("undecided");
    expect(told.limit).toMatch(
      /^\d+ orders of starting were tried, and more decide who of clerk, .* gets which address$/,
    );
  });

  it("are of no account where the assertion does not look at what they decide", () => {
    const told = asked(site("hosts: 100-104"), "from: till, to: mill, expect: connects");
    expect(told).toMatchObject({ status: "passed" });
  });

  it("find whoever is left out all the same", () => {
    expect(asked(site("hosts: 100-104"), crowd("10.1.0.100-104"))).toMatchObject({ status: "failed" });
  });
});

/** `desk` hangs by the left, where `good` advertises; on the right `one` does, too, and `two`, which leads nowhere; `second`: what it says. */
const rivals = (second: string): TestSite =>
  siteFrom(
    `dryrack: topology/1
devices:
  good: { is: router, ports: { desks: 1G, shop: 1G } }
  one: { is: router, ports: { desks: 1G, shop: 1G } }
  two: { is: router, ports: { desks: 1G } }
  left: { is: switch, ports: { p1..2: 1G } }
  right: { is: switch, ports: { p1..3: 1G } }
  hub: { is: unmanaged-switch, ports: { p1..3: 1G } }
  desk: { is: host, ports: { a: 1G, b: 1G } }
  shop: { is: host, ports: { nic: 1G } }
cables:
  - [good:desks, left:p1]
  - [desk:a, left:p2]
  - [one:desks, right:p1]
  - [two:desks, right:p2]
  - [desk:b, right:p3]
  - [good:shop, hub:p1]
  - [one:shop, hub:p2]
  - [shop:nic, hub:p3]
`,
    `dryrack: intent/1
devices:
  good: { interfaces: { desks: { port: desks, ipv6: "fd00:1::1/64" }, shop: { port: shop, ipv6: "fd00:9::1/64" } }, advertise: { desks: {} } }
  one: { interfaces: { desks: { port: desks, ipv6: "fd00:2::1/64" }, shop: { port: shop, ipv6: "fd00:9::2/64" } }, advertise: { desks: {} } }
  two: { interfaces: { desks: { port: desks, ipv6: "fd00:2::2/64" } }${second} }
  desk: { bonds: { pair: { members: [a, b], mode: active-backup } }, legs: { pair: { ipv6: advertised } } }
  shop:
    legs: { nic: { ipv6: "fd00:9::9/64", gateway: "fd00:9::1" } }
    routes: [{ to: "fd00:2::/64", via: "fd00:9::2" }]
    serves: { tcp/80: all }
`,
  );

describe("what is open only in some order of starting", () => {
  it("is tried in every outcome: of two advertisers that only a bond's other side hears the second may be heard first", () => {
    const asks = "from: desk, to: shop, service: tcp/80, expect: connects";
    const [alone] = judge(rivals(""), `${asks}, recovers: from-dark`);
    // Nothing breaks it, and there are more orders than are tried.
    expect(alone?.status).toBe("undecided");
    expect(alone?.verdict.limit).toMatch(/ orders of starting were tried, and more decide /);
    const site = rivals(", advertise: { desks: {} }");
    expect(judge(site, asks)[0]?.status).toBe("passed");
    const [told] = judge(site, `${asks}, recovers: from-dark`);
    expect(told?.status).toBe("failed");
    expect(told?.verdict.headline).toMatch(
      /^from dark, when left starts after the others and two advertises first: desk to shop/,
    );
    expect(told?.verdict.picks).toEqual([
      { choice: expect.stringMatching(/\/advertiser$/), option: expect.stringMatching(/^two\/.*\/\/one\//) },
    ]);
  });
});

describe("what nobody can tell only in some outcome of an order of starting", () => {
  it("is told with what must be taken for it", () => {
    // By the address of `two` the desk speaks through a list that nobody knows.
    const unknown =
      "filter: { from: { otherwise: accept }, through: { otherwise: drop, rules: [{ name: odd, action: unknown, note: nobody wrote it down }] } }";
    const site = rivals(`, advertise: { desks: {} }, routes: [{ to: "fd00:9::/64", via: "fd00:2::1" }], ${unknown}`);
    const [told] = judge(site, "from: desk, to: shop, service: tcp/80, expect: connects, recovers: from-dark");
    expect(told?.status).toBe("undecided");
    expect(told?.verdict.headline).toMatch(/^from dark, when left starts after the others and two advertises first: /);
    expect(told?.verdict.picks).toEqual([
      { choice: expect.stringMatching(/\/advertiser$/), option: expect.stringMatching(/^two\/.*\/\/one\//) },
    ]);
  });
});

/** `pc` hears five advertisers at once, of which any may be the first and any other the last; `one` and `other` are far from that. */
function advertised(): TestSite {
  const names = ["r1", "r2", "r3", "r4", "r5"];
  const rack = names.map((name) => `  ${name}: { is: router, ports: { l: 1G } }`);
  const cables = names.map((name, index) => `  - [${name}:l, hub:p${index + 1}]`);
  const intent = names.map((name, index) => {
    const leg = `l: { port: l, ipv6: "fd00:1::${index + 1}/64" }`;
    return `  ${name}: { interfaces: { ${leg} }, advertise: { l: {} } }`;
  });
  return siteFrom(
    `dryrack: topology/1
devices:
${rack.join("\n")}
  hub: { is: unmanaged-switch, ports: { p1..6: 1G } }
  pc: { is: host, ports: { nic: 1G } }
  one: { is: host, ports: { nic: 1G } }
  other: { is: host, ports: { nic: 1G } }
cables:
${cables.join("\n")}
  - [hub:p6, pc:nic]
  - [one:nic, other:nic]
`,
    `dryrack: intent/1
devices:
${intent.join("\n")}
  pc: { legs: { nic: { ipv6: advertised } } }
  one: { legs: { nic: { ipv6: "fd00:2::1/64", gateway: none } } }
  other: { legs: { nic: { ipv6: "fd00:2::2/64", gateway: none } } }
`,
  );
}

describe("more outcomes of one order than are tried", () => {
  const service = "service: icmp6/echo-request, expect: connects";

  it("leave it undecided where the assertion looked at whoever hears the advertisers", () => {
    const told = asked(advertised(), `from: pc, to: "fd00:1::1", ${service}`);
    expect(told.status).toBe("undecided");
    expect(told.limit).toMatch(/^when .* it may come out in more ways than were tried$/);
  });

  it("are of no account elsewhere", () => {
    expect(asked(advertised(), `from: one, to: other, ${service}`).status).toBe("passed");
  });
});
