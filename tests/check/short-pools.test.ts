/** Who asked a pool first that has no address for all is taken for granted, and every verdict that looked at one of its clients says so. */
import { describe, expect, it } from "vitest";
import { type Judged, judge as judgeSite, type Texts } from "../property/reuse.ts";
import { type Rooms, rooms } from "./rooms.ts";
import { judge } from "./verdicts.ts";

const C_JOINS = {
  rack: "  c: { is: host, ports: { nic: 1G } }",
  cables: "  - [r:p3, c:nic]",
  intent: "  c: { legs: { nic: lease } }",
};

/** Clients `a` and `c` of a pool of the router; `b` stands elsewhere. */
const served = (pool: string, more: Rooms = C_JOINS): ReturnType<typeof rooms> =>
  rooms({ legsA: "nic: lease", router: `    dhcp: { red: { ${pool} } }`, ...more });

const A_FIRST = "a asked before c: the pool of r/red has no address for all";
const BOTH_WAYS = ["lease: { client: a }", "lease: { client: c, address: none }"];

describe("a pool that has no address for all", () => {
  it("is what every verdict about one of its clients rests on, and no other", () => {
    const told = judge(
      served("hosts: 100-100"),
      ...BOTH_WAYS,
      "from: a, to: r/red, service: icmp/echo-request, expect: connects",
      "from: b, to: r/blue, service: icmp/echo-request, expect: connects",
    );
    expect(told.map(({ status }) => status)).toEqual(["passed", "passed", "passed", "passed"]);
    expect(told.map(({ assumptions }) => assumptions.filter((each) => each.includes("asked before")))).toEqual([
      [A_FIRST],
      [A_FIRST],
      [A_FIRST],
      [],
    ]);
  });

  it("is made larger, or an address kept, where somebody without a lease was to have one", () => {
    const help = "a larger pool, or a reservation for c, would give it an address whoever starts first";
    const told = judge(
      served("hosts: 100-100"),
      "lease: { client: c }",
      "from: c, to: r/red, service: icmp/echo-request, expect: connects",
    );
    for (const each of told) {
      expect(each).toMatchObject({ status: "failed", decided: ["red", expect.anything()], verdict: { help } });
      expect(each.assumptions).toContain(A_FIRST);
    }
    const mended = judge(served("hosts: 100-100, reservations: { c: 50 }"), "lease: { client: c }");
    expect(mended).toMatchObject([{ status: "passed", assumptions: [] }]);
  });

  it("counts those who asked where they are many, and helps all who go without", () => {
    const all = ["c", "d", "e", "f", "g", "h"];
    const crowd = {
      rack: `${all.map((name) => `  ${name}: { is: host, ports: { nic: 1G } }`).join("\n")}\n  s: { is: switch, ports: { p1..9: 1G } }`,
      cables: ["  - [r:p3, s:p9]", ...all.map((name, at) => `  - [s:p${at + 1}, ${name}:nic]`)].join("\n"),
      intent: `${all.map((name) => `  ${name}: { legs: { nic: lease } }`).join("\n")}\n  s: { switching: { ports: { p1..9: { untagged: red } } } }`,
    };
    expect(judge(served("hosts: 100-104", crowd), "lease: { client: h }")).toMatchObject([
      {
        status: "failed",
        assumptions: ["a, c, d and 2 others asked before g and h: the pool of r/red has no address for all"],
        verdict: {
          help: "a larger pool, or reservations for g and h, would give them addresses whoever starts first",
        },
      },
    ]);
  });

  it.each([
    ["it is large enough", "hosts: 100-101", "lease: { client: c }"],
    [
      "the address that is lent is kept for that client",
      "hosts: 100-100, reservations: { a: 100 }",
      "lease: { client: a }",
    ],
  ])("matters to nobody where %s", (_, pool, asked) => {
    expect(judge(served(pool), asked)).toMatchObject([{ status: "passed", assumptions: [] }]);
  });

  it("does not matter to what comes back in every order of starting", () => {
    const [told] = judge(
      served("hosts: 100-100"),
      "from: a, to: 192.0.2.1, expect: blocked, even-if: cut-off, recovers: from-dark",
    );
    expect(told).toMatchObject({ status: "passed", assumptions: [] });
    const [once] = judge(served("hosts: 100-100"), "from: a, to: 192.0.2.1, expect: blocked, even-if: cut-off");
    expect(once?.assumptions).toEqual([A_FIRST]);
  });
});

it("is told of a verdict that is taken over from before an edit, as the site is now", () => {
  const texts = (client: string): Texts => [
    "dryrack: topology/1\ndevices:\n  r: { is: router, ports: { l1..3: 1G } }\n  a: { is: host, ports: { nic: 1G } }\n  c: { is: host, ports: { nic: 1G } }\ncables:\n  - [r:l1, a:nic]\n  - [r:l2, c:nic]\n",
    `dryrack: intent/1\nnetworks: { red: { vlan: 10, ipv4: 10.1.0.0/24 } }\ndevices:\n  r:\n    switching: { ports: { l1..2: { untagged: red } }, own: { tagged: [red] } }\n    interfaces: { red: { network: red, host: 1 } }\n    dhcp: { red: { hosts: 100-100 } }\n  a: { legs: { nic: lease } }\n  c: { legs: { nic: ${client} } }\n`,
    'dryrack: assertions/1\nassertions:\n  - { name: "1", lease: { client: a } }\n',
  ];
  const assumed = (judged: Judged | undefined): unknown =>
    judged?.result.verdicts.map(({ assumptions }) => assumptions);
  const before = judgeSite(texts("{ network: red, host: 9 }"));
  expect(assumed(before)).toEqual([[]]);
  const after = judgeSite(texts("lease"), before);
  expect(after?.result.reused).toBe(1);
  expect(assumed(after)).toEqual([[A_FIRST]]);
  const again = judgeSite(texts("{ network: red, host: 9 }"), after);
  expect(assumed(again)).toEqual([[]]);
});
