/** Plain values before and after an edit: what says the same at the same place, and what is carried to where it stands now. */
import { describe, expect, it } from "vitest";
import { ANYWHERE, carried, isAlike, type Moves, type Span } from "../../src/diagnose/index.ts";

const span = (start: number): Span => ({ file: 0, start, end: start + 3 });
/** What stands behind letter 10 stands five letters further on; what stands at letter 50 is gone. */
const moves: Moves = (each) => {
  if (each.start === 50) return undefined;
  return each.start < 10 ? each : { ...each, start: each.start + 5, end: each.end + 5 };
};
const valueAt = (start: number) => ({ name: "edge", ports: [{ rate: 1n, at: span(start) }], none: undefined });

describe("values are alike", () => {
  it("in whatever order their keys stand", () => {
    expect(isAlike({ a: 1, b: [2n] }, { b: [2n], a: 1 })).toBe(true);
  });

  it.each([
    ["another value", { a: 1 }, { a: 2 }],
    ["one key more", { a: 1 }, { a: 1, b: 2 }],
    ["one key less", { a: 1, b: undefined }, { a: 1 }],
    ["another key", { a: undefined }, { b: undefined }],
    ["a key that every record inherits", { toString: undefined }, {}],
    ["one thing more", [1], [1, 2]],
    ["no list", [1], { 0: 1 }],
    ["nothing", {}, null],
  ])("but not with %s", (_, before, after) => {
    expect(isAlike(before, after)).toBe(false);
    expect(isAlike(after, before)).toBe(false);
  });

  it("where their places stand now", () => {
    expect(isAlike(valueAt(20), valueAt(25), moves)).toBe(true);
    expect(isAlike(valueAt(20), valueAt(20), moves)).toBe(false);
    expect(isAlike(valueAt(20), valueAt(20), ANYWHERE)).toBe(true);
    expect(isAlike(valueAt(50), valueAt(50), moves)).toBe(false);
  });

  it("to themselves only where all their places stay, however often that is asked", () => {
    const [stays, goes] = [valueAt(1), valueAt(20)];
    for (let time = 0; time < 2; time++) {
      expect(isAlike(stays, stays, moves)).toBe(true);
      expect(isAlike(goes, goes, moves)).toBe(false);
      expect(isAlike(goes, goes)).toBe(true);
    }
  });
});

describe("a value is carried", () => {
  it("to where its places are, and shared where they stayed", () => {
    const stays = valueAt(1);
    expect(carried([stays, valueAt(20)], moves)).toEqual([valueAt(1), valueAt(25)]);
    expect(carried([stays, valueAt(20)], moves)?.[0]).toBe(stays);
    expect(carried(stays, moves)).toBe(stays);
  });

  it("nowhere where a place of it is gone", () => {
    expect(carried(valueAt(50), moves)).toBeUndefined();
  });
});
