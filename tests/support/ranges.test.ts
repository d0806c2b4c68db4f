/** Runners refuse ranges that hold nothing. */
import { expect, it } from "vitest";
import { countOf, seedsOf } from "./ranges.ts";

it("reads a run of seeds and a single one", () => {
  expect(seedsOf("3-5")).toEqual([3, 4, 5]);
  expect(seedsOf("7")).toEqual([7]);
  expect(countOf("24")).toBe(24);
});

it.each(["", "abc", "5-3", "1-", "-4", "1-2-3"])("refuses %s as a run of seeds", (text) => {
  expect(() => seedsOf(text)).toThrow(/no run of seeds/);
});

it.each(["0", "", "x", "-1", "1.5"])("refuses %s as a count", (text) => {
  expect(() => countOf(text)).toThrow(/no number/);
});
