import { describe, expect, it } from "vitest";
import { movesBetween, UNMOVED } from "../../src/diagnose/index.ts";

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
  ])("%s", (_, before, after, word, expected) => {
    expect(moved(before, after, word)).toBe(expected);
  });

  it("follow their file to another number", () => {
    const moves = movesBetween([file("x"), file("y", "b.yaml")], [file("y", "b.yaml")]);
    expect(moves({ file: 1, start: 0, end: 1 })).toEqual({ file: 0, start: 0, end: 1 });
    expect(moves({ file: 0, start: 0, end: 1 })).toBeUndefined();
  });

  it("are not asked for where no text changed", () => {
    expect(movesBetween([file("x")], [file("x")])).toBe(UNMOVED);
  });
});
