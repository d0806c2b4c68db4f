/** Sets of packets told by source and destination, against sets of single pairs. */
import * as fc from "fast-check";
import { expect, it } from "vitest";
import { normalizeRanges, type Ranges, rangesContain, rangesOverlap } from "../../src/address/index.ts";
import { arranged, left, type Square } from "../../src/prove/squares.ts";

const LAST = 7;

const range = fc
  .tuple(fc.integer({ min: 0, max: LAST }), fc.integer({ min: 0, max: 3 }))
  .map(([low, more]) => [BigInt(low), BigInt(Math.min(LAST, low + more))] as const);
const keys = fc.array(range, { minLength: 1, maxLength: 3 }).map(normalizeRanges);
const square = fc.record({ sources: keys, destinations: keys });

function pairsOf(squares: readonly Square[]): readonly string[] {
  const numbers = Array.from({ length: LAST + 1 }, (_, number) => number);
  const has = (set: Ranges, number: number): boolean => rangesContain(set, BigInt(number));
  return numbers.flatMap((from) =>
    numbers.flatMap((to) =>
      squares.some(({ sources, destinations }) => has(sources, from) && has(destinations, to)) ? [`${from} ${to}`] : [],
    ),
  );
}

it("arranged are the same pairs, no destination twice, no two with the same sources", () => {
  let fewer = 0;
  fc.assert(
    fc.property(fc.array(square, { maxLength: 6 }), (squares) => {
      const found = arranged(squares);
      expect(pairsOf(found)).toEqual(pairsOf(squares));
      for (const [place, one] of found.entries()) {
        for (const other of found.slice(place + 1)) {
          expect(rangesOverlap(one.destinations, other.destinations)).toBe(false);
          expect(one.sources).not.toEqual(other.sources);
        }
      }
      if (found.length < squares.length) fewer++;
    }),
    { numRuns: 500 },
  );
  expect(fewer).toBeGreaterThan(50);
});

it("what is left without others is each pair that these lack", () => {
  const seen = { all: 0, none: 0, some: 0 };
  fc.assert(
    fc.property(square, fc.array(square, { maxLength: 4 }), (one, others) => {
      const known = arranged(others);
      const found = left(one, known);
      const taken = new Set(pairsOf(known));
      const wanted = pairsOf([one]).filter((pair) => !taken.has(pair));
      expect(pairsOf(found)).toEqual(wanted);
      if (wanted.length === 0) seen.none++;
      else if (wanted.length === pairsOf([one]).length) seen.all++;
      else seen.some++;
    }),
    { numRuns: 500 },
  );
  expect(Math.min(...Object.values(seen))).toBeGreaterThan(20);
});
