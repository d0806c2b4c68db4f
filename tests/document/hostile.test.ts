import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { fixture, load } from "./support.ts";

const SAMPLES = ["topology.yaml", "intent.yaml", "assertions.yaml"].map(fixture);
const PIECES = [
  ...[
    "[",
    "]",
    "{",
    "}",
    ":",
    ": ",
    ", ",
    "\n",
    "\n  ",
    "\t",
    "- ",
    "? ",
    "&a ",
    "*a",
    "!x ",
    "!!int ",
    "<<: *a",
    "'",
    '"',
    "|",
    ">",
    "#",
  ],
  ...[
    "%",
    "---",
    "...",
    "\u0000",
    "\ufeff",
    "\r",
    "\\",
    "::",
    "~",
    "null",
    "__proto__",
    "4294967296",
    "p1..99999999",
    "fd71::",
    "10.0.0.0/33",
  ],
  ...["dryrack: intent/1", "\ud800", "ä", "🦉", "otherwise: drop", "{ every: network }", "- - - -", "[[[[", "}}}}"],
];

const edit = fc.record({
  at: fc.double({ min: 0, max: 1, noNaN: true }),
  drop: fc.nat(12),
  put: fc.constantFrom(...PIECES, ""),
});

function mutate(text: string, edits: readonly { at: number; drop: number; put: string }[]): string {
  return edits.reduce((before, { at, drop, put }) => {
    const from = Math.floor(at * before.length);
    return before.slice(0, from) + put + before.slice(from + drop);
  }, text);
}

/** What must hold of any text whatever. */
function loads(text: string): void {
  const { document, diagnostics } = load(text);
  const errors = diagnostics.filter(({ severity }) => severity === "error");
  if (document === undefined) expect(diagnostics.length).toBeGreaterThan(0);
  for (const { labels } of diagnostics) {
    expect(labels.filter(({ primary }) => primary).length).toBe(1);
    for (const { span } of labels) {
      expect(span.start).toBeGreaterThanOrEqual(0);
      expect(span.start).toBeLessThanOrEqual(span.end);
      expect(span.end).toBeLessThanOrEqual(Math.max(1, text.length));
    }
  }
  if (errors.length === 0)
    expect(JSON.stringify(load(text), bigints)).toBe(
      JSON.stringify({ document, diagnostics, incomplete: [] }, bigints),
    );
}

const bigints = (_key: string, value: unknown): unknown => (typeof value === "bigint" ? `${value}n` : value);

describe("any text at all", () => {
  it("property: a mutated plan loads to a document or diagnostics whose places lie in the file, and never throws", () => {
    fc.assert(
      fc.property(fc.constantFrom(...SAMPLES), fc.array(edit, { minLength: 1, maxLength: 4 }), (text, edits) =>
        loads(mutate(text, edits)),
      ),
      { numRuns: 400, seed: 20240607 },
    );
  });

  it("property: a text made of YAML's own pieces never throws", () => {
    const made = fc
      .array(fc.constantFrom(...PIECES, "a", "devices", " "), { maxLength: 40 })
      .map((pieces) => pieces.join(""));
    fc.assert(
      fc.property(fc.constantFrom("", "dryrack: topology/1\n", "dryrack: intent/1\n"), made, (head, text) =>
        loads(head + text),
      ),
      { numRuns: 600, seed: 20240607 },
    );
  });

  it("cut off anywhere, the sketch never throws", () => {
    const [, text = ""] = SAMPLES;
    for (let length = 0; length < text.length; length += 37) loads(text.slice(0, length));
  });

  it("nesting of a hundred thousand brackets ends at once", () => {
    for (const text of [
      "[".repeat(100_000),
      `${"[".repeat(50_000)}${"]".repeat(50_000)}`,
      "{a: ".repeat(50_000),
      "- ".repeat(50_000),
    ]) {
      expect(load(text).diagnostics.map(({ code }) => code)).toEqual(["too-deep"]);
    }
  });

  it("two megabytes of nothing but faults end, with at most 501 diagnostics", () => {
    const faulty = (head: string, line: (index: number) => string): string => {
      const lines = Array.from({ length: 400_000 }, (_, index) => line(index)).join("\n");
      return `${head}\n${lines}`.slice(0, 2_000_000);
    };
    const texts = [
      faulty("dryrack: intent/1", (index) => `key-${index}: x`),
      faulty("dryrack: intent/1\nsets:\n  a:", () => `  - 10.300.1.1`),
      faulty("dryrack: intent/1\nsets:\n  a:", () => `  - &a x`),
      faulty("dryrack: intent/1\nnetworks:", (index) => `  n${index}: { vlan: 4095 }`),
    ];
    for (const text of texts) {
      const { diagnostics } = load(text);
      expect(diagnostics.length).toBeLessThanOrEqual(501);
      expect(diagnostics.length).toBeGreaterThan(0);
    }
  });
});
