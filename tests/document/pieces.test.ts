/**
 * A text that is read in pieces gives what it gives when it is read whole: nodes with their places, and all that is told of
 * faults. Held on the demo, on what the other tests of documents load, and on random texts, most of them odd.
 */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import * as fc from "fast-check";
import { describe, expect, it, vi } from "vitest";
import { Composer } from "yaml";
import { parseYaml } from "../../src/document/yaml-text.ts";
import { routedTexts } from "../bench/speed-site.ts";

const WHOLE = Number.POSITIVE_INFINITY;

/** Holds pieces of these numbers of words to the whole; answers with how many of them were read to the end. */
function heldToWhole(text: string, pieces: readonly number[]): number {
  const whole = parseYaml({ path: "a.yaml", text }, 3, WHOLE);
  for (const piece of pieces) expect(parseYaml({ path: "a.yaml", text }, 3, piece)).toEqual(whole);
  return whole.diagnostics.length === 0 ? pieces.length : 0;
}

function yamlFilesBelow(folder: string): readonly string[] {
  return readdirSync(folder, { recursive: true, encoding: "utf8" })
    .filter((name) => /\.ya?ml$/.test(name))
    .map((name) => join(folder, name));
}

// -- random texts ------------------------------------------------------------------------------------------------------

const WORDS = fc.constantFrom(
  "a",
  "b",
  "c d",
  '"q: r"',
  "'s'",
  "10.0.0.0/8",
  "x-1",
  "fd71::1",
  "{ a: 1, b: [c, d] }",
  "[e, f]",
  "",
);
/** Rare: what is refused, and what is wrong. */
const ODD = fc.constantFrom(
  "&n a",
  "*n",
  "!t a",
  "fd71::",
  "a: b",
  "[a",
  '"open',
  "? k",
  "|\n      text\n      more",
  "- ",
  "<<",
);
const COMMENTS = fc.constantFrom("", "", "", "", " # why", "\n# at the edge", "\n", "\n   # within\n");

const KEYS = Array.from({ length: 12 }, (_, at) => `key${at}`);

/** Lines of a list or mapping. */
const block = (depth: number): fc.Arbitrary<readonly string[]> => {
  const scalar = fc.oneof({ weight: 30, arbitrary: WORDS }, { weight: 1, arbitrary: ODD });
  const tail = fc.tuple(scalar, COMMENTS).map(([word, comment]) => [` ${word}${comment}`]);
  const value =
    depth === 0
      ? tail
      : fc.oneof(
          tail,
          block(depth - 1).map((lines) => ["", ...lines.map((line) => `  ${line}`)]),
        );
  const map = fc
    .tuple(fc.array(value, { maxLength: 9, size: "max" }), fc.nat({ max: 30 }))
    .map(([values, twice]) =>
      values.flatMap(([first = "", ...lines], at) => [`${KEYS[at === twice ? 0 : at]}:${first}`, ...lines]),
    );
  const list = fc
    .array(value, { maxLength: 9, size: "max" })
    .map((values) => values.flatMap(([first = "", ...lines]) => [`-${first}`, ...lines]));
  return fc.oneof(map, list);
};

describe("a text that is read in pieces", () => {
  it("gives the same nodes, on every document of the demo and of the tests", () => {
    const files = [...yamlFilesBelow("topologies"), ...yamlFilesBelow("assertions"), ...yamlFilesBelow("tests")];
    const read = files.reduce((sum, file) => sum + heldToWhole(readFileSync(file, "utf8"), [1, 7, 64, 1000]), 0);
    expect(read).toBeGreaterThan(100);
  });

  it("gives the same nodes and faults, on random texts", () => {
    const seen = { right: 0, wrong: 0 };
    const pieces = fc.array(fc.integer({ min: 1, max: 60 }), { minLength: 1, maxLength: 3 });
    fc.assert(
      fc.property(
        block(3),
        pieces,
        fc.constantFrom("", "", "", "---\n", "# top\n", "%YAML 1.2\n---\n"),
        (lines, sizes, head) => {
          const read = heldToWhole(`${head}${lines.join("\n")}\n`, sizes);
          seen[read > 0 ? "right" : "wrong"]++;
        },
      ),
      { numRuns: 400 },
    );
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(60);
  });

  it("is never held whole by the library", () => {
    const compose = vi.spyOn(Composer.prototype, "compose");
    const { intent } = routedTexts({ prefixes: 2000, filtered: 20, rules: 20 });
    const { diagnostics } = parseYaml({ path: "a.yaml", text: intent }, 0);
    expect(diagnostics).toEqual([]);
    const sizes = compose.mock.calls.map(([tokens]) => wordsIn([...tokens]));
    vi.restoreAllMocks();
    const sum = sizes.reduce((all, size) => all + size, 0);
    expect(sizes.length).toBeGreaterThan(10);
    expect(Math.max(...sizes)).toBeLessThan(sum / 4);
  });
});

/** How many texts stand in trees of tokens. */
function wordsIn(tree: unknown): number {
  if (typeof tree !== "object" || tree === null) return 0;
  const own = "source" in tree ? 1 : 0;
  return Object.values(tree).reduce<number>((sum, each) => sum + wordsIn(each), own);
}
