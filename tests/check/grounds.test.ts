/**
 * What a proof rests on: it names the line that decides, says what that is, and without that line the proof falls.
 */
import { describe, expect, it } from "vitest";
import { NO_INK, renderJson, renderTerminal } from "../../src/report/index.ts";
import { onlyRule, type Rooms, rooms } from "./rooms.ts";
import { judge } from "./verdicts.ts";

/** One line that alone keeps packets from their target. */
type Case = {
  readonly what: string;
  /** What a site with the line has. */
  readonly site: Rooms;
  /** What the same site without it has. */
  readonly without: Rooms;
  readonly asked: string;
  readonly ground: string;
  /** What stands there. */
  readonly text: RegExp;
};

const NOTHING = "{ otherwise: drop }";
const TO_B = "from: red, to: b, expect: blocked";
const BEHIND: Rooms = {
  networks: "  green: { ipv4: 10.3.0.0/24 }",
  ports: "p1: { untagged: red }, p3: { untagged: red }, p2: { untagged: blue }, p4: { untagged: blue }",
  rack: "  q: { is: router, ports: { x: 1G, y: 1G } }\n  c: { is: host, ports: { nic: 1G } }",
  cables: "  - [r:p4, q:x]\n  - [q:y, c:nic]",
  intent: `  q:
    interfaces: { x: { network: blue, port: x, host: 2 }, y: { network: green, port: y, host: 1 } }
  c: { legs: { nic: { network: green, host: 10, gateway: 10.3.0.1 } } }`,
};
const TRUSTED = {
  to: NOTHING,
  through: onlyRule("{ name: trusted, source: 10.2.0.0/24, out: blue, action: accept }"),
};
const TWO_LEGS: Rooms = {
  to: NOTHING,
  through: NOTHING,
  cables: "  - [r:p3, b:spare]",
  legsB: "nic: { network: blue, host: 10, gateway: 10.2.0.1 }, spare: { network: red, host: 20, gateway: none }",
};
const withPort = (port: string): Rooms => ({
  to: NOTHING,
  through: NOTHING,
  ports: `p1: { untagged: red }, p2: { untagged: blue }, p3: ${port}`,
});

const CASES: readonly Case[] = [
  {
    what: "a rule",
    site: { through: "{ otherwise: accept, rules: [{ name: keep out, in: red, out: blue, action: drop }] }" },
    without: { through: "{ otherwise: accept }" },
    asked: TO_B,
    ground: "rule",
    text: /^keep out$/,
  },
  {
    what: "a rule that refuses",
    site: { through: "{ otherwise: accept, rules: [{ name: turn back, in: red, out: blue, action: reject }] }" },
    without: { through: "{ otherwise: accept }" },
    asked: TO_B,
    ground: "rule",
    text: /^turn back$/,
  },
  {
    what: "the end of a list",
    site: { through: NOTHING },
    without: { through: "{ otherwise: accept }" },
    asked: TO_B,
    ground: "rule",
    text: /^drop$/,
  },
  {
    what: "a route",
    site: { router: "    routes: [{ to: 10.2.0.10/32, action: blackhole }]" },
    without: {},
    asked: TO_B,
    ground: "route",
    text: /blackhole|10\.2\.0\.10/,
  },
  {
    what: "the lack of a route",
    site: BEHIND,
    without: { ...BEHIND, router: "    routes: [{ to: 10.3.0.0/24, via: 10.2.0.2 }]" },
    asked: "from: red, to: c, expect: blocked",
    ground: "route",
    text: /^r$/,
  },
  {
    what: "the tags that a port takes",
    site: withPort("{ untagged: red, tagged: [blue], admit: untagged }"),
    without: withPort("{ untagged: red, tagged: [blue] }"),
    asked: TO_B,
    ground: "tag",
    text: /untagged/,
  },
  {
    what: "a check of sources",
    site: { ...TRUSTED, router: "    reverse-path: strict" },
    without: TRUSTED,
    asked: TO_B,
    ground: "address",
    text: /strict/,
  },
  {
    what: "a host that answers for each address on its own leg",
    site: { ...TWO_LEGS, b: "host-model: strong" },
    without: TWO_LEGS,
    asked: "from: a, to: b/nic, expect: blocked",
    ground: "host",
    text: /^b$/,
  },
];

describe("a proof rests on", () => {
  it.each(CASES)("$what, and falls without it", ({ site, without, asked, ground, text }) => {
    const built = rooms(site);
    const [verdict] = judge(built, asked);
    expect(verdict).toMatchObject({ status: "passed" });
    const named = verdict?.restsOn.filter((each) => each.ground === ground) ?? [];
    expect(named.map(({ origin: { span } }) => built.textAt(span))).toContainEqual(expect.stringMatching(text));
    expect(judge(rooms(without), asked)[0]).toMatchObject({ status: "failed" });
  });

  it("lines that reports show with their places", () => {
    const [first] = CASES;
    const [told] = first === undefined ? [] : judge(rooms(first.site), first.asked);
    if (told === undefined) throw new Error("nothing was judged");
    const text = `${"\n".repeat(2)}keep out`;
    const origin = { by: "written" as const, span: { file: 0, start: 2, end: 10 } };
    const verdict = {
      ...told.verdict,
      at: origin.span,
      decidedBy: [],
      path: [],
      restsOn: [
        { origin, text: "dropped by `keep out`", ground: "rule" as const },
        {
          origin: { ...origin, by: "default" as const, rule: "a default", source: "RFC 1812" },
          text: "refused",
          ground: "address" as const,
        },
      ],
      assumptions: ["b is taken to listen on everything"],
    };
    const run = {
      command: "check",
      version: "",
      sources: [{ path: "x.yaml", text }],
      diagnostics: [],
      assumptions: [],
    };
    const lines = renderTerminal({ ...run, verdicts: [verdict] }, { ink: NO_INK, verbose: true }).split("\n");
    expect(lines.slice(lines.indexOf("   rests on"), -3)).toEqual([
      "   rests on",
      "   - rule        x.yaml, line 3, column 1: dropped by `keep out`",
      "   - default     1 that nobody has to write, told in the JSON report",
      "   - assumed     b is taken to listen on everything",
    ]);
    expect(renderTerminal({ ...run, verdicts: [verdict] }, { ink: NO_INK, verbose: false })).not.toContain("rests on");
    const { results } = JSON.parse(renderJson({ ...run, verdicts: [verdict] }));
    expect(results[0].restsOn).toMatchObject([
      { file: "x.yaml", line: 3, column: 1, by: "written", text: "dropped by `keep out`", ground: "rule" },
      { file: "x.yaml", by: "default", text: "refused", ground: "address" },
    ]);
    expect(results[0].assumptions).toEqual(["b is taken to listen on everything"]);
  });
});
