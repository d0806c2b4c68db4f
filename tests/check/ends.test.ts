/**
 * What an end may be (semantics, section 1): networks, hosts, legs, devices, sets, addresses, prefixes, ranges; and which
 * address of several a client uses.
 */
import { describe, expect, it } from "vitest";
import { onlyRule, type Rooms, rooms } from "./rooms.ts";
import { check, judge, statuses } from "./verdicts.ts";

const CLOSED: Rooms = { to: "{ otherwise: drop }", through: "{ otherwise: drop }" };

describe("a network", () => {
  const leased: Rooms = {
    router: "    dhcp: { red: { hosts: 100-109 } }",
    rack: "  c: { is: host, ports: { nic: 1G } }",
    cables: "  - [r:p4, c:nic]",
    ports: "p1: { untagged: red }, p2: { untagged: blue }, p3: { untagged: red }, p4: { untagged: red }",
    intent: "  c: { legs: { nic: lease } }",
  };

  it("begins at every declared host and at one fresh client that took a lease", () => {
    const [verdict] = judge(rooms(leased), "from: red, to: b, expect: connects");
    expect(verdict?.cells.map(({ from, status }) => `${from}: ${status}`)).toEqual([
      "a: passed",
      "c: passed",
      "a new client in red: passed",
    ]);
  });

  it("fails by name when the fresh client gets nowhere", () => {
    const legsA = "nic: { network: red, host: 10, gateway: 10.1.0.1 }";
    const router = "    dhcp: { red: { hosts: 100-109, router: none } }";
    const [verdict] = judge(rooms({ legsA, router }), "from: red, to: b, expect: connects");
    expect(verdict?.headline).toBe(
      "a new client in red to b on echo: a new client in red knows no way to this address",
    );
  });

  it("is, as a target, every declared host there", () => {
    const [verdict] = judge(rooms(leased), "from: b, to: red, expect: connects");
    expect(verdict?.cells.map(({ to }) => to)).toEqual(["a", "c"]);
  });
});

describe("addresses that are written", () => {
  it.each([
    ["10.1.0.0/24", "10.1.0.0/24"],
    ["10.1.0.5-10.1.0.9", "10.1.0.5-10.1.0.9"],
    ['"2001:db8::/64"', "2001:db8::/64"],
    ['"2001:db8::5-2001:db8::9"', "2001:db8::5-2001:db8::9"],
  ])("%s is told as it was written", (written, label) => {
    const [verdict] = judge(rooms(CLOSED), `from: a, to: ${written}, expect: blocked`);
    expect(verdict?.cells.map(({ to }) => to)).toEqual([label]);
  });
});

describe("a set", () => {
  const sets: Rooms = {
    top: `sets: { rooms: [red, blue], everybody: { every: network, except: [blue] }, mixed: [a, 10.2.0.0/24, r/red], both: [a, b] }`,
  };

  it("holds for each of its members, as a list would", () => {
    const [verdict] = judge(rooms({ ...sets, ...CLOSED }), "from: rooms, to: r, service: tcp/22, expect: blocked");
    expect(verdict?.cells.map(({ from, status }) => `${from} ${status}`)).toEqual(["red passed", "blue passed"]);
  });

  it("is vacuous when one of them is cut off", () => {
    const legsB = "nic: { network: blue, host: 10, gateway: none }";
    const [verdict] = judge(rooms({ ...sets, ...CLOSED, legsB }), "from: rooms, to: r, expect: blocked");
    expect(verdict?.cells.map(({ from, status }) => `${from} ${status}`)).toEqual(["red passed", "blue vacuous"]);
    expect(verdict?.status).toBe("vacuous");
  });

  it("leaves out what it leaves out", () => {
    const [verdict] = judge(rooms({ ...sets, ...CLOSED }), "from: everybody, to: b, expect: blocked");
    expect(verdict?.cells.map(({ from }) => from)).toEqual(["red"]);
  });

  it("may hold hosts, legs and addresses", () => {
    const [verdict] = judge(rooms({ ...sets, ...CLOSED }), "from: b, to: mixed, expect: blocked");
    expect(verdict?.cells.map(({ to, status }) => `${to} ${status}`)).toEqual([
      "a passed",
      "10.2.0.0/24 failed",
      "r/red passed",
    ]);
  });

  it("connects each with each but not with itself", () => {
    const [verdict] = judge(rooms(sets), "from: both, to: both, expect: connects");
    expect(verdict?.cells.map(({ from, to }) => `${from}-${to}`)).toEqual(["a-b", "b-a"]);
  });
});

describe("an address", () => {
  it("as a source restricts packets to it, from the network that it lives in", () => {
    const site = rooms({ ...CLOSED, through: onlyRule("{ name: printer, source: 10.1.0.77, action: accept }") });
    expect(
      statuses(
        site,
        "from: 10.1.0.77, to: b, expect: blocked",
        "from: 10.1.0.78, to: b, expect: blocked",
        "from: 10.1.0.0/26, to: b, expect: blocked",
        "from: 10.1.0.70-80, to: b, expect: blocked",
        "from: 10.2.0.77, to: a, expect: blocked",
      ),
    ).toEqual(["failed", "passed", "passed", "failed", "passed"]);
  });

  it("begins an exchange where somebody owns it, by statement or by lease", () => {
    const leased = rooms({ legsA: "nic: lease", router: "    dhcp: { red: { hosts: 100-109 } }" });
    const [verdict] = judge(leased, "from: 10.1.0.100, to: b, expect: connects");
    expect(verdict).toMatchObject({ status: "passed", headline: "the exchange works: 10.1.0.100 to b on echo" });
    expect(judge(rooms(), "from: 10.1.0.77, to: b, expect: connects")[0]).toMatchObject({
      status: "vacuous",
      headline: "there is no host in `10.1.0.77` to begin anything",
    });
  });

  it("beyond an upstream begins there", () => {
    const site = rooms({
      rack: "  carrier: { is: upstream, ports: { drop: 1G } }",
      cables: "  - [carrier:drop, r:p4]",
      interfaces: ", wan: { port: p4, ipv4: 203.0.113.50/24, gateway: 203.0.113.1 }",
      intent: "  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1 } } }",
      to: onlyRule("{ name: office, in: wan, source: 198.51.100.7, dest: r/wan, action: accept }"),
      router: "    reverse-path: strict",
    });
    expect(
      statuses(
        site,
        "from: 198.51.100.7, to: r/wan, expect: connects",
        "from: 198.51.100.8, to: r/wan, expect: connects",
        "from: 198.51.100.7, to: r/wan, expect: blocked",
        "from: 198.51.100.8, to: r/wan, expect: blocked",
      ),
    ).toEqual(["passed", "failed", "failed", "passed"]);
  });

  it("as a target is asked for itself", () => {
    const [there, gone] = judge(
      rooms(),
      "from: a, to: 10.2.0.10, expect: connects",
      "from: a, to: 10.2.0.11, expect: connects",
    );
    expect(there?.status).toBe("passed");
    expect(gone).toMatchObject({ status: "failed", headline: expect.stringContaining("nobody answers") });
  });

  it("of a prefix or a range is asked for where somebody owns it", () => {
    const told = judge(
      rooms(),
      "from: a, to: 10.2.0.0/24, expect: connects",
      "from: a, to: 10.2.0.50-60, expect: connects",
    );
    expect(told[0]?.cells.map(({ to }) => to)).toEqual(["b", "r"]);
    expect(told.map(({ status }) => status)).toEqual(["passed", "vacuous"]);
  });
});

describe("which address of a host with several legs a client uses", () => {
  const twoLegs = (legs: string, more: Rooms = {}): Rooms => ({
    rack: "  c: { is: host, ports: { one: 1G, two: 1G } }",
    cables: "  - [r:p3, c:one]\n  - [r:p4, c:two]",
    ports: "p1: { untagged: red }, p2: { untagged: blue }, p3: { untagged: red }, p4: { untagged: blue }",
    intent: `  c: { legs: { ${legs} }, serves: { tcp/80: all }${more.a ?? ""} }`,
    networks: "  green: { vlan: 30, ipv4: 10.3.0.0/24 }",
    ...more,
    a: "",
  });
  const asked = (site: ReturnType<typeof rooms>, from: string) =>
    judge(site, `from: ${from}, to: c, service: tcp/81, expect: arrives, through: nobody`);

  const FROM_RED = "one: { network: red, host: 20 }, two: { network: blue, host: 20, gateway: 10.2.0.1 }";

  it("is the one on a link they share", () => {
    const site = rooms({ ...twoLegs(FROM_RED), through: "{ otherwise: drop }" });
    expect(statuses(site, "from: a, to: c, service: tcp/80, expect: connects, routed: never")).toEqual(["passed"]);
    expect(statuses(site, "from: b, to: c, service: tcp/80, expect: connects, routed: never")).toEqual(["passed"]);
    expect(asked.length).toBe(2);
  });

  it("is, from elsewhere, the one on the leg with the gateway", () => {
    const elsewhere: Rooms = {
      rack: "  c: { is: host, ports: { one: 1G, two: 1G } }\n  d: { is: host, ports: { nic: 1G } }\n  s: { is: switch, ports: { p1..4: 1G } }",
      cables: "  - [r:p3, s:p1]\n  - [s:p2, c:one]\n  - [s:p3, c:two]\n  - [r:p4, d:nic]",
      ports: "p1: { untagged: red }, p2: { untagged: blue }, p3: { tagged: [red, blue] }",
      networks: "  green: { vlan: 30, ipv4: 10.3.0.0/24 }",
      interfaces: ", green: { network: green, port: p4, host: 1 }",
    };
    const intent = (
      gateways: readonly [string, string],
    ): string => `  s: { switching: { ports: { p1: { tagged: [red, blue] }, p2: { untagged: red }, p3: { untagged: blue } } } }
  c: { legs: { one: { network: red, host: 20${gateways[0]} }, two: { network: blue, host: 20${gateways[1]} } }, serves: { tcp/80: all } }
  d: { legs: { nic: { network: green, host: 10, gateway: 10.3.0.1 } } }`;
    const addressOf = (gateways: readonly [string, string]): string => {
      const through = "{ otherwise: accept, rules: [{ name: stop, dest: [10.1.0.20, 10.2.0.20], action: drop }] }";
      const site = rooms({ ...elsewhere, intent: intent(gateways), through });
      return judge(site, "from: d, to: c, service: tcp/80, expect: connects")[0]?.packet ?? "";
    };
    expect(addressOf([", gateway: 10.1.0.1", ""])).toContain("to 10.1.0.20");
    expect(addressOf(["", ", gateway: 10.2.0.1"])).toContain("to 10.2.0.20");
  });

  it("is first of all the one that the client's resolver gives for its name", () => {
    const named = twoLegs(FROM_RED, {
      intent: `  c: { legs: { ${FROM_RED} }, serves: { tcp/80: all }, names: { c.example: two } }`,
      router: "    resolver: { listen: [red] }\n    dhcp: { red: { hosts: 100-109 } }",
      legsA: "nic: lease",
    });
    // Its name leads over the router although they share a link, so `routed: never` does not hold.
    expect(statuses(rooms(named), "from: a, to: c, service: tcp/80, expect: connects, routed: never")).toEqual([
      "failed",
    ]);
    const { router: _router, ...without } = named;
    const unnamed = rooms({ ...without, router: "    dhcp: { red: { hosts: 100-109, resolvers: none } }" });
    expect(statuses(unnamed, "from: a, to: c, service: tcp/80, expect: connects, routed: never")).toEqual(["passed"]);
  });

  it("is the one named by a leg", () => {
    const site = rooms({ ...twoLegs(FROM_RED), through: "{ otherwise: drop }" });
    expect(
      statuses(
        site,
        "from: a, to: c/one, service: tcp/80, expect: connects, routed: never",
        "from: a, to: c/two, service: tcp/80, expect: connects",
        "from: c/one, to: a, expect: connects, routed: never",
      ),
    ).toEqual(["passed", "failed", "passed"]);
  });
});

describe("a name that nothing carries", () => {
  it("is told for every assertion at once, with the nearest word, and nothing is judged", () => {
    const { told, diagnostics } = check(rooms(), [
      "from: rde, to: blue, expect: blocked",
      "from: red, to: b/nicc, expect: connects",
      "from: red, to: blue, expect: connects, through: rr, avoids: bb",
      "lease: { client: aa, server: rrr }",
      "segment: { network: redd, ports: [r:p9, q:p1] }",
    ]);
    expect(told).toEqual([]);
    expect(diagnostics.map(({ code }) => code)).toEqual(Array.from({ length: 9 }, () => "unknown-name"));
    expect(diagnostics[0]).toMatchObject({ message: "nothing in this site is called `rde`", help: "try `red`" });
  });
});

describe("a group", () => {
  it.each(["224.0.0.251", "ff02::fb"])("is no end, since no document says who hears it: %s", (group) => {
    const { told, diagnostics } = check(rooms(), [
      `from: red, to: "${group}", service: udp/5353, expect: blocked`,
      `policy: { from: [red], to: ["${group}"], open: {} }`,
    ]);
    expect(told).toEqual([]);
    expect(diagnostics.map(({ code, severity, message }) => [code, severity, message])).toEqual([
      ["not-modelled", "error", `\`${group}\` is a group, and who hears it is in no document`],
      ["not-modelled", "error", `\`${group}\` is a group, and who hears it is in no document`],
    ]);
  });
});
