import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { commonEnds, movesBetween, UNMOVED } from "../../src/diagnose/index.ts";

const file = (text: string, path = "a.yaml") => ({ path, text });

/** Where a word stands after an edit; undefined: it is gone. */
function moved(before: string, after: string, word: string): string | undefined {
  const start = before.indexOf(word);
  const span = movesBetween([file(before)], [file(after)])({ file: 0, start, end: start + word.length });
  return span && after.slice(span.start, span.end);
}

describe("places after an edit", () => {
  it.each([
    ["stay before it", "one two three", "one 2 three", "one", "one"],
    ["move behind it", "one two three", "one twenty three", "three", "three"],
    ["grow around it", "[one, two] end", "[one, new, two] end", "[one, two]", "[one, new, two]"],
    ["are gone where they were taken out", "one two three", "one three", "two", undefined],
    ["stay between two edits", "one: 1\ntwo: 2\nthree: 3\n", "one: 10\ntwo: 2\nthree: 30\n", "two: 2", "two: 2"],
    [
      "grow around two edits",
      "[one,\n two,\n three] end",
      "[1,\n two,\n 3] end",
      "[one,\n two,\n three]",
      "[1,\n two,\n 3]",
    ],
    ["are gone between two edits", "one: 1\ntwo: 2\nthree: 3\n", "one: 10\nthree: 3\nfour: 4\n", "two: 2", undefined],
    ["follow the longer stretch where lines change places", "a\nb\nc\nd\n", "b\nc\na\nd\n", "b\nc", "b\nc"],
  ])("%s", (_, before, after, word, expected) => {
    expect(moved(before, after, word)).toBe(expected);
  });

  it("follow their file to another number", () => {
    const moves = movesBetween([file("x"), file("y", "b.yaml")], [file("y", "b.yaml")]);
    expect(moves({ file: 1, start: 0, end: 1 })).toEqual({ file: 0, start: 0, end: 1 });
    expect(moves({ file: 0, start: 0, end: 1 })).toBeUndefined();
  });

  it("keep at least both ends, in their order, and what holds a place holds what was kept of it", () => {
    const lines = fc.array(fc.constantFrom("a: 1\n", "b: 2\n", "c: 3\n", "- x\n", "- y", "\n"), { maxLength: 12 });
    const edits = fc.tuple(lines, lines).map(([before, after]) => [before.join(""), after.join("")] as const);
    fc.assert(
      fc.property(edits, fc.nat(40), fc.nat(6), ([before, after], at, length) => {
        const moves = movesBetween([file(before)], [file(after)]);
        const kept = [...before].flatMap((letter, start) => {
          const now = moves({ file: 0, start, end: start + 1 });
          return now === undefined || after.slice(now.start, now.end) !== letter ? [] : [[start, now.start] as const];
        });
        const { head, tail } = commonEnds(before, after);
        expect(kept.length).toBeGreaterThanOrEqual(head + tail);
        const places = kept.map(([, now]) => now);
        expect(places).toEqual([...new Set(places)].sort((one, other) => one - other));
        const [start, end] = [Math.min(at, before.length), Math.min(at + length, before.length)];
        const span = moves({ file: 0, start, end });
        for (const [old, now] of kept)
          if (span !== undefined && old >= start && old < end)
            expect([now >= span.start, now < span.end]).toEqual([true, true]);
      }),
      { seed: 1, numRuns: 2000 },
    );
  });

  it("are not asked for where no text changed", () => {
    expect(movesBetween([file("x")], [file("x")])).toBe(UNMOVED);
  });
});
