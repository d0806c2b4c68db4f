import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { readEverydayYaml } from "../../src/document/everyday-yaml.ts";
import { parseAnyYaml } from "../../src/document/yaml-text.ts";
import { fixture } from "./support.ts";

const SAMPLES = ["topology.yaml", "intent.yaml", "assertions.yaml"].map(fixture);

/** Where the everyday reader answers, the library answers the same and complains of nothing. */
function agrees(text: string): boolean {
  const root = readEverydayYaml(text, 0);
  if (root === undefined) return false;
  expect({ root, diagnostics: [] }).toEqual(parseAnyYaml({ path: "a.yaml", text }, 0));
  return true;
}

const PIECES = [
  ...[
    "a",
    "b",
    "a: b",
    "key: value",
    "- ",
    "- a",
    "\n",
    "\n",
    "\n  ",
    "\n    ",
    "\n- ",
    "\n  - ",
    " ",
    "  ",
    ": ",
    ":",
    ", ",
    ",",
    "[",
    "]",
    "{",
    "}",
  ],
  ...[
    "#",
    " # c",
    "# c\n",
    '"',
    "'",
    '"q"',
    "'s'",
    "''",
    '"a": ',
    "[a, b]",
    "{ a: b }",
    "{ c: [d] }",
    "::",
    "a:b",
    "tcp/443",
    "?",
    "|",
    "&",
    "*",
    "!",
  ],
  ...["-", "--", "---", "...", "%", "~", "\t", "\r\n", "ä", "🦉", "x y", "<<: ", "\\", "@"],
];

const LINES = [
  ...[
    "K:",
    "K: v",
    "K: v # c",
    "- v",
    "- K: v",
    "-",
    "- - v",
    "# c",
    "",
    "K: [a,",
    "b]",
    "K: {",
    "}",
    "K: { a: b }",
    "K: 'q'",
    "v",
    "- [a]",
    "- { a: b }",
  ],
  ...["K: # c", "- # c", "]", "K: [", "a, b", "c: d,", ","],
];

describe("the everyday reader", () => {
  it.each(SAMPLES.map((text) => [text]))("reads a sketch of the design as the library does (%#)", (text) => {
    expect(agrees(text)).toBe(true);
  });

  it.each([
    "a: b\n",
    "a: b",
    "# c\n\na: b # d\n",
    "a:\n  b: c\n  d: e\nf: g\n",
    "a:\n- b\n- c\nd: e\n",
    "a:\n  - b: c\n    d: e\n  - f: g\n",
    "a: [b, c,]\n",
    "a: { b: c,\n  d: e }\n",
    "a: [\n  b, # c\n  d\n  ]\n",
    'a: "b: c"\n"d e": \'f\'\n',
    "a : b\n",
    "a: b#c\n",
    "a: b:c\n",
    "a b: c d\n",
    "a: {}\nb: []\n",
    "a:\n\n  # c\n  b: c\n\n\n",
    "a: x, y] z\n",
    "- a\n",
    "a:\n   - b\n   -   c: d\n       e: f\n",
  ])("agrees with the library on %j", (text) => {
    agrees(text);
  });

  it.each([
    ...[
      "- a\n",
      "a: *b\n",
      "a: &b c\n",
      "a: !b c\n",
      "a: |\n  b\n",
      "a: b\n  c\n",
      "a:\n",
      "a: [b,, c]\n",
      "a: { b }\n",
      "a: fd71::\n",
      "a: [fd71::, b]\n",
    ],
    ...[
      "a: { b: fd71:: }\n",
      "a: b: c\n",
      "a: 1\na: 2\n",
      "a:\n  b: c\n d: e\n",
      "a: [b\n]\n",
      "a: 'it''s'\n",
      'a: "\\t"\n',
      "? a\n: b\n",
      "--- a\n",
      "a: [b: c]\n",
      "a: -1\n",
    ],
    ...["<<: { a: b }\n", "a: b\n- c\n", "a:\n  - b\n  c: d\n", 'a: "b" c\n', "a:\r\n  b: c\r\n", "\ta: b\n", ""],
  ])("leaves %j to the library", (text) => {
    expect(readEverydayYaml(text, 0)).toBeUndefined();
  });

  it("property: on mutated plans it agrees with the library wherever it answers", () => {
    const edit = fc.record({
      at: fc.double({ min: 0, max: 1, noNaN: true }),
      drop: fc.nat(6),
      put: fc.constantFrom(...PIECES, ""),
    });
    let answered = 0;
    fc.assert(
      fc.property(fc.constantFrom(...SAMPLES), fc.array(edit, { minLength: 1, maxLength: 3 }), (text, edits) => {
        const mutated = edits.reduce((before, { at, drop, put }) => {
          const from = Math.floor(at * before.length);
          return before.slice(0, from) + put + before.slice(from + drop);
        }, text);
        if (agrees(mutated)) answered++;
      }),
      { numRuns: 800, seed: 20240608 },
    );
    expect(answered).toBeGreaterThan(100);
  });

  it("property: on texts made of YAML's pieces it agrees with the library wherever it answers", () => {
    let answered = 0;
    const made = fc.array(fc.constantFrom(...PIECES), { maxLength: 12 }).map((pieces) => `a: ${pieces.join("")}`);
    fc.assert(
      fc.property(made, (text) => {
        if (agrees(text)) answered++;
      }),
      { numRuns: 3000, seed: 20240608 },
    );
    expect(answered).toBeGreaterThan(100);
  });

  it("property: on lines of any indent it agrees with the library wherever it answers", () => {
    let answered = 0;
    const line = fc.record({ indent: fc.nat(5), content: fc.constantFrom(...LINES) });
    const made = fc
      .array(line, { minLength: 1, maxLength: 7 })
      .map((lines) =>
        lines
          .map(({ indent, content }, index) => " ".repeat(index === 0 ? 0 : indent) + content.replace("K", `k${index}`))
          .join("\n"),
      );
    fc.assert(
      fc.property(made, (text) => {
        if (agrees(text)) answered++;
      }),
      { numRuns: 6000, seed: 20240608 },
    );
    expect(answered).toBeGreaterThan(200);
  });
});
