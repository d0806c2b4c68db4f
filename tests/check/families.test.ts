/**
 * The two versions of IP (semantics, section 1): an exchange holds over either, as clients fall back to the other one, and says what
 * does not work; `family` asks for one of them, or for each.
 */
import { describe, expect, it } from "vitest";
import { foldAssumptions } from "../../src/result/index.ts";
import { check, judge, siteFrom, statuses, type TestSite } from "./verdicts.ts";

/** What a case changes. */
type Changes = {
  readonly hide?: string;
  readonly pool?: string;
  readonly router?: string;
  readonly advertise?: string;
  readonly through?: string;
  /** What the carrier says of prefixes. */
  readonly delegates?: string;
  /** The leg of `b`, which is in red then. */
  readonly b?: string;
};

const HIDE = "{ name: hide, family: ipv4, out: wan, to: external-address }";

/** Red speaks both versions, blue IPv4 alone; `a` and `c` wait for whatever comes in red, `d` in blue. */
function dual(changes: Changes = {}): TestSite {
  const {
    hide = HIDE,
    pool = "100-110",
    router = "",
    advertise = "{ red: {} }",
    delegates = ", delegates: 56",
  } = changes;
  const { through = "{ otherwise: accept }", b = "{ network: blue, host: 10, gateway: 10.2.0.1 }" } = changes;
  const home = changes.b === undefined ? "blue" : "red";
  return siteFrom(
    `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  r: { is: router, ports: { p1..6: 1G } }
  a: { is: host, ports: { nic: 1G } }
  b: { is: host, ports: { nic: 1G } }
  c: { is: host, ports: { nic: 1G } }
  d: { is: host, ports: { nic: 1G } }
cables: [[r:p1, a:nic], [r:p2, b:nic], [r:p3, c:nic], [carrier:drop, r:p4], [r:p5, d:nic]]
`,
    `dryrack: intent/1
networks:
  red: { vlan: 10, ipv4: 10.1.0.0/24, ipv6: { delegated: r/wan, subnet: 1 } }
  blue: { vlan: 20, ipv4: 10.2.0.0/24 }
devices:
  carrier:
    hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 50-60, ipv6: "2001:db8:ffff::/64"${delegates} } }
  r:
    switching:
      unlisted: "off"
      ports: { p1: { untagged: red }, p3: { untagged: red }, p2: { untagged: ${home} }, p5: { untagged: blue } }
      own: { tagged: [red, blue] }
    interfaces:
      wan: { port: p4, ipv4: lease, ipv6: delegated }
      red: { network: red, host: 1 }
      blue: { network: blue, host: 1 }
    dhcp: { red: { hosts: ${pool}, lease: 1h${router} }, blue: { hosts: 100-110, lease: 1h } }
    advertise: ${advertise}
    reverse-path: strict
    filter: { to: { otherwise: accept }, through: ${through}, from: { otherwise: accept } }
    translate: { source: [${hide}] }
  a: { legs: { nic: lease } }
  b: { legs: { nic: ${b} } }
  c: { legs: { nic: lease } }
  d: { legs: { nic: lease } }
`,
  );
}

const OUT = "from: a, to: internet, service: tcp/443, expect: connects";
const ALONE = / over IPv[46] alone; /;
const aloneIn = (site: TestSite, assertion: string): readonly string[] =>
  judge(site, assertion).flatMap(({ status, assumptions }) => [
    status,
    ...foldAssumptions(assumptions.filter((each) => ALONE.test(each))),
  ]);

describe("without `family`", () => {
  it.each([
    ["all works", {}, []],
    [
      "a translation is missing",
      { hide: "" },
      [
        "a gets to internet on tcp/443 over IPv6 alone; over IPv4: the answer is lost: carrier knows of no exchange that it belongs to (a reset from carrier)",
      ],
    ],
    [
      "its lease tells a router that does not exist",
      { router: ", router: 10.1.0.254" },
      [
        "a gets to internet on tcp/443 over IPv6 alone; over IPv4: nobody answers for 10.1.0.254 on the link of a (icmp/host-unreachable from a)",
      ],
    ],
    [
      "nobody advertises",
      { advertise: "{}" },
      ["a gets to internet on tcp/443 over IPv4 alone; over IPv6: got no address: no address is advertised to it"],
    ],
  ] as const)("holds and says over which version alone: %s", (_what, changes, said) => {
    expect(aloneIn(dual(changes), OUT)).toEqual(["passed", ...said]);
  });

  it("says that a client has no address at all, since the pool is too small", () => {
    const small = dual({ pool: "100-100" });
    expect(aloneIn(small, "from: c, to: internet, service: tcp/443, expect: connects")).toEqual([
      "passed",
      "c gets to internet on tcp/443 over IPv6 alone; over IPv4: got no address: the pool has no address left",
    ]);
    expect(aloneIn(small, "from: a, to: c, service: tcp/443, expect: connects")).toEqual([
      "passed",
      "a gets to c on tcp/443 over IPv6 alone; over IPv4: c got no address: the pool has no address left",
    ]);
  });

  it("says nothing of a version that nobody there is meant to speak, or that the service has no like in", () => {
    expect(aloneIn(dual(), "from: d, to: internet, expect: connects")).toEqual(["passed"]);
    expect(aloneIn(dual(), "from: a, to: d, expect: connects")).toEqual(["passed"]);
    expect(aloneIn(dual({ hide: "" }), "from: a, to: 2001:db8::7, service: tcp/443, expect: connects")).toEqual([
      "passed",
    ]);
    const errors = "from: a, to: r/red, service: icmp6/packet-too-big, expect: arrives";
    expect(aloneIn(dual(), errors)).toEqual(["passed"]);
  });

  it("is told once of several clients, though each reason names its own", () => {
    const both = "from: [a, c], to: internet, service: [tcp/443, tcp/80], expect: connects";
    expect(aloneIn(dual({ router: ", router: 10.1.0.254" }), both)).toEqual([
      "passed",
      "a and c get to internet on tcp/443 and internet on tcp/80 over IPv6 alone; over IPv4, a for one: nobody answers for 10.1.0.254 on the link of a (icmp/host-unreachable from a)",
    ]);
  });
});

describe("`family` of what connects", () => {
  it.each([
    ["all works", {}, ["passed", "passed", "passed"]],
    ["IPv4 is dead", { hide: "" }, ["failed", "passed", "failed"]],
    ["IPv6 is dead", { advertise: "{}" }, ["passed", "failed", "failed"]],
  ] as const)("asks for IPv4, IPv6 and each: %s", (_what, changes, expected) => {
    const asked = ["ipv4", "ipv6", "each"].map((family) => `${OUT}, family: ${family}`);
    expect(statuses(dual(changes), ...asked)).toEqual(expected);
  });

  it("names the version in its headline and in its cells", () => {
    const [told] = judge(dual({ hide: "" }), `${OUT}, family: each`);
    expect(told?.headline).toMatch(/^a to internet on tcp\/443 over IPv4: the answer is lost: /);
    expect(told?.cells.map(({ family, status }) => [family, status])).toEqual([
      ["ipv4", "failed"],
      ["ipv6", "passed"],
    ]);
    expect(told?.assumptions.filter((each) => ALONE.test(each))).toEqual([]);
  });

  it("fails where an end has no address of it, and tells of the lease that did not come", () => {
    const small = dual({ pool: "100-100" });
    const [from, to] = judge(
      small,
      "from: c, to: internet, expect: connects, family: each",
      "from: a, to: c, expect: connects, family: ipv4",
    );
    expect(from).toMatchObject({
      status: "failed",
      headline: "c to internet on echo over IPv4: c got no address: the pool has no address left",
    });
    expect(from?.decided[0]).toBe("red");
    expect(to).toMatchObject({
      status: "failed",
      headline: "a to c on echo over IPv4: c got no address: the pool has no address left",
    });
    const [mixed] = judge(dual(), "from: [a, d], to: internet, expect: connects, family: ipv6");
    expect(mixed?.status).toBe("vacuous");
  });

  it("fails for a host of a network in which others have one", () => {
    const mixed = dual({ b: "{ ipv4: 10.1.0.10/24, gateway: 10.1.0.1 }" });
    const asked = "to: internet, expect: connects, family";
    expect(judge(mixed, `from: red, ${asked}: each`, `from: red, ${asked}: ipv4`)).toMatchObject([
      { status: "failed", headline: "b to internet on echo over IPv6: b has no IPv6 address" },
      { status: "passed" },
    ]);
    expect(judge(mixed, "from: a, to: red, expect: connects, family: ipv6")).toMatchObject([
      { status: "failed", headline: "a to b on echo over IPv6: b has no IPv6 address" },
    ]);
  });

  it("fails where the prefix that a network is to have is not delegated, at the upstream's line", () => {
    const asked = ["each", "ipv6"].map((family) => `${OUT}, family: ${family}`);
    const told = judge(
      dual({ delegates: "" }),
      ...asked,
      `${OUT}, family: ipv4`,
      asked[0]?.replace("a,", "red,") ?? "",
    );
    expect(told.map(({ status }) => status)).toEqual(["failed", "failed", "passed", "failed"]);
    expect(told[1]).toMatchObject({
      headline: "a to internet on tcp/443 over IPv6: a got no address: no address is advertised to it",
      decided: ["`delegates`", expect.any(String)],
    });
    const other = "to: internet, expect: connects, family: ipv6";
    expect(judge(dual({ delegates: "" }), `from: d, ${other}`)).toMatchObject([{ status: "vacuous" }]);
  });

  it("says over which version alone where nothing is delegated", () => {
    expect(aloneIn(dual({ delegates: "" }), OUT)).toEqual([
      "passed",
      "a gets to internet on tcp/443 over IPv4 alone; over IPv6: got no address: no address is advertised to it",
    ]);
  });

  it.each([
    ["from: d, to: internet, expect: connects, family: ipv6", "nobody in `d` is meant to have an IPv6 address"],
    ["from: a, to: blue, expect: connects, family: each", "nobody in `blue` is meant to have an IPv6 address"],
    ["from: blue, to: a, expect: arrives, family: ipv6", "nobody in `blue` is meant to have an IPv6 address"],
  ])("is vacuous where nobody is meant to have an address of it: %s", (assertion, headline) => {
    expect(judge(dual(), assertion)).toMatchObject([{ status: "vacuous", headline }]);
  });

  it("asks addresses that were written over their own version", () => {
    const written = "from: a, to: [198.51.100.7, 2001:db8::7], service: tcp/443, expect: connects, family: each";
    const [told] = judge(dual(), written);
    expect(told?.cells.map(({ to, family, status }) => [to, family, status])).toEqual([
      ["198.51.100.7", "ipv4", "passed"],
      ["2001:db8::7", "ipv6", "passed"],
    ]);
    expect(judge(dual(), "from: 10.1.0.100, to: 2001:db8::7, expect: connects, family: each")).toMatchObject([
      { status: "vacuous", headline: "the ends have no version of IP in common that is asked for" },
    ]);
  });
});

const ANSWERS = "{ name: answers, state: [established, related], action: accept }";
const SIX_ONLY = `{ otherwise: drop, rules: [${ANSWERS}, { name: six, family: ipv6, in: red, out: wan, action: accept }] }`;

describe("`family` of what is blocked", () => {
  it("asks for packets of that version alone; `each` for all", () => {
    const asked = ["", ", family: ipv4", ", family: ipv6", ", family: each"].map(
      (family) => `from: red, to: internet, expect: blocked${family}`,
    );
    const told = judge(dual({ through: SIX_ONLY }), ...asked);
    expect(told.map(({ status }) => status)).toEqual(["failed", "passed", "failed", "failed"]);
    expect(told[1]?.headline).toMatch(/^no packet of IPv4 gets from red to internet; /);
    expect(told.map(({ cells }) => cells[0]?.family)).toEqual([undefined, "ipv4", "ipv6", undefined]);
    const [, , six] = told;
    expect(six?.decided).toContain("six");
  });

  it("is vacuous where the source has no way out over that version", () => {
    const mute = dual({ advertise: "{}", through: SIX_ONLY });
    const asked = (family: string): string => `from: a, to: internet, expect: blocked${family}`;
    expect(judge(mute, asked(", family: ipv6")).map(({ status, headline }) => [status, headline])).toEqual([
      ["failed", expect.stringContaining("a packet from a gets to internet")],
    ]);
    const shut = dual({ advertise: "{}", through: `{ otherwise: drop, rules: [${ANSWERS}] }` });
    expect(judge(shut, asked(", family: ipv6"), asked(", family: ipv4"), asked(""))).toMatchObject([
      { status: "vacuous", headline: expect.stringContaining("a has no gateway of IPv6 to reach") },
      { status: "passed" },
      { status: "passed" },
    ]);
    expect(statuses(shut, `${asked(", family: ipv6")}, even-if: cut-off`)).toEqual(["passed"]);
  });

  it("is asked of `only`, too: what is open over the other version breaks nothing", () => {
    const web = "{ name: web, family: ipv4, in: red, out: wan, service: tcp/443, action: accept }";
    const through = `{ otherwise: drop, rules: [${ANSWERS}, ${web}, { name: six, family: ipv6, in: red, out: wan, action: accept }] }`;
    const only = "from: red, to: internet, service: tcp/443, expect: only";
    const [all, four, six] = judge(dual({ through }), only, `${only}, family: ipv4`, `${only}, family: ipv6`);
    expect([all, four, six].map((each) => each?.status)).toEqual(["failed", "passed", "failed"]);
    expect(six?.headline).toMatch(/^besides tcp\/443, a packet from red gets to internet/);
  });
});

describe("`family` of a policy", () => {
  const table = (family: string): string =>
    `policy: { from: [red], to: [internet], open: { red: { internet: tcp/443 } } }${family}`;

  it("is that of each cell", () => {
    const web = "{ name: web, in: red, out: wan, service: tcp/443, action: accept }";
    const site = dual({ hide: "", through: `{ otherwise: drop, rules: [${ANSWERS}, ${web}] }` });
    const told = judge(site, ...["", ", family: ipv4", ", family: ipv6", ", family: each"].map(table));
    expect(told.map(({ status }) => status)).toEqual(["passed", "failed", "passed", "failed"]);
    expect(told.map(({ cells }) => cells.map(({ family }) => family))).toEqual([
      [undefined],
      ["ipv4"],
      ["ipv6"],
      [undefined],
    ]);
    expect(foldAssumptions(told[0]?.assumptions ?? []).filter((each) => ALONE.test(each))).toHaveLength(1);
  });
});

describe("a `family` that contradicts what is beside it", () => {
  it.each([
    ["from: a, to: 10.2.0.10, expect: connects, family: ipv6", "an IPv4 address"],
    ['from: "2001:db8::/32", to: a, expect: blocked, family: ipv4', "an IPv6 address"],
    ["policy: { from: [a], to: [10.2.0.10] }, family: ipv6", "an IPv4 address"],
    ["from: a, to: b, service: icmp6/packet-too-big, expect: arrives, family: ipv4", "a service of IPv6"],
    ["from: a, to: b, service: icmp/echo-request, expect: blocked, family: ipv6", "a service of IPv4"],
    ["lease: { client: a }, family: ipv4", "`family`"],
  ])("is told at its place: %s", (assertion, what) => {
    const { diagnostics } = check(dual(), [assertion]);
    expect(diagnostics).toMatchObject([
      { code: "keys-conflict", message: expect.stringContaining(`${what} has no meaning`) },
    ]);
    expect(diagnostics[0]?.help).toBeDefined();
  });

  it("is none where a service has its like, or both versions are asked", () => {
    const fine = [
      "from: a, to: internet, service: icmp/echo-request, expect: connects, family: ipv6",
      "from: a, to: 198.51.100.7, expect: connects, family: each",
    ];
    expect(statuses(dual(), ...fine)).toEqual(["passed", "passed"]);
  });
});
