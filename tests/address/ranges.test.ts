/** Sets of numbers against plain sets on a small universe, and the laws of set algebra. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  EMPTY_RANGES,
  intersectRanges,
  isEmptyRanges,
  normalizeRanges,
  type Ranges,
  rangeOf,
  ranges,
  rangesContain,
  rangesEqual,
  rangesOverlap,
  rangesSize,
  rangesWithin,
  single,
  subtractRanges,
  unionRanges,
} from "../../src/address/index.ts";
import { smallSets, UNIVERSE } from "./generators.ts";

const universe = rangeOf(0n, 23n);
const complement = (set: Ranges): Ranges => subtractRanges(universe, set);
const membersOf = (set: Ranges): bigint[] => UNIVERSE.filter((value) => rangesContain(set, value));

/** Inclusive, ascending, disjoint, and never touching. */
function isNormal(set: Ranges): boolean {
  return set.every(([low, high], index) => {
    const before = set[index - 1];
    return low <= high && (before === undefined || before[1] + 1n < low);
  });
}

describe("ranges", () => {
  it("merge where they overlap and where they touch", () => {
    expect(ranges([5n, 9n], [1n, 3n], [4n, 4n], [20n, 21n], [8n, 12n])).toEqual([
      [1n, 12n],
      [20n, 21n],
    ]);
  });

  it("keep the longer end of nested pairs", () => {
    expect(ranges([1n, 9n], [2n, 3n], [10n, 10n])).toEqual([[1n, 10n]]);
  });

  it("take a pair that ends before it begins as empty", () => {
    expect(ranges([3n, 2n])).toEqual([]);
    expect(rangeOf(3n, 2n)).toEqual(EMPTY_RANGES);
    expect(isEmptyRanges(rangeOf(3n, 2n))).toBe(true);
  });

  it("count members at both ends", () => {
    expect(rangesSize(ranges([0n, 0n], [10n, 19n]))).toBe(11n);
    expect(rangesSize(rangeOf(0n, (1n << 128n) - 1n))).toBe(1n << 128n);
  });

  it("lie within themselves and their union, not within a gap", () => {
    const two = ranges([1n, 3n], [7n, 9n]);
    expect(rangesWithin(two, single(7n))).toBe(true);
    expect(rangesWithin(two, rangeOf(3n, 7n))).toBe(false);
    expect(rangesWithin(two, rangeOf(5n, 5n))).toBe(false);
    expect(rangesWithin(two, rangeOf(10n, 11n))).toBe(false);
  });
});

describe("set operations agree with plain sets", () => {
  it("normal form is reached from any pairs", () => {
    const pair = fc.tuple(fc.integer({ min: 0, max: 23 }), fc.integer({ min: 0, max: 23 }));
    fc.assert(
      fc.property(fc.array(pair), (pairs) => {
        const big = pairs.map(([low, high]) => [BigInt(low), BigInt(high)] as const);
        const set = normalizeRanges(big);
        expect(isNormal(set)).toBe(true);
        expect(membersOf(set)).toEqual(UNIVERSE.filter((value) => big.some(([l, h]) => l <= value && value <= h)));
      }),
    );
  });

  it("union, intersection and difference hold exactly the right members, in normal form", () => {
    fc.assert(
      fc.property(smallSets, smallSets, (a, b) => {
        const cases: [Ranges, (value: bigint) => boolean][] = [
          [unionRanges(a.ranges, b.ranges), (v) => a.members.has(v) || b.members.has(v)],
          [intersectRanges(a.ranges, b.ranges), (v) => a.members.has(v) && b.members.has(v)],
          [subtractRanges(a.ranges, b.ranges), (v) => a.members.has(v) && !b.members.has(v)],
        ];
        for (const [result, belongs] of cases) {
          expect(isNormal(result)).toBe(true);
          expect(membersOf(result)).toEqual(UNIVERSE.filter(belongs));
          expect(rangesSize(result)).toBe(BigInt(UNIVERSE.filter(belongs).length));
        }
      }),
      { numRuns: 1000 },
    );
  });

  it("within, overlap and equality are those of plain sets", () => {
    fc.assert(
      fc.property(smallSets, smallSets, (a, b) => {
        expect(rangesWithin(a.ranges, b.ranges)).toBe([...b.members].every((value) => a.members.has(value)));
        expect(rangesOverlap(a.ranges, b.ranges)).toBe([...b.members].some((value) => a.members.has(value)));
        const same = UNIVERSE.every((value) => a.members.has(value) === b.members.has(value));
        expect(rangesEqual(a.ranges, b.ranges)).toBe(same);
        expect(rangesEqual(a.ranges, structuredClone(a.ranges))).toBe(true);
      }),
      { numRuns: 1000 },
    );
  });

  it("complement twice is identity", () => {
    fc.assert(
      fc.property(smallSets, ({ ranges: set }) => {
        expect(complement(complement(set))).toEqual(set);
      }),
    );
  });

  it("the complement of a union is the intersection of the complements", () => {
    fc.assert(
      fc.property(smallSets, smallSets, (a, b) => {
        expect(complement(unionRanges(a.ranges, b.ranges))).toEqual(
          intersectRanges(complement(a.ranges), complement(b.ranges)),
        );
      }),
    );
  });

  it("difference and intersection split a set in two", () => {
    fc.assert(
      fc.property(smallSets, smallSets, (a, b) => {
        const outside = subtractRanges(a.ranges, b.ranges);
        const inside = intersectRanges(a.ranges, b.ranges);
        expect(rangesOverlap(outside, inside)).toBe(false);
        expect(unionRanges(outside, inside)).toEqual(a.ranges);
      }),
    );
  });
});
