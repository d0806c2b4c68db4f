/**
 * Whether a list of matches leaves any packet of a product, in whatever order they stand. A match whose tests surely pass but
 * one takes values away from that one field and from nothing else, so that the product stays one; a field with a value that
 * no match tests for keeps such values alone, since whatever is left is left with such a value, too, and all matches that
 * test for others are out. (Clauses with one literal, and literals of one sign: Davis and Putnam 1960, from memory.) Only where
 * neither goes on is the product parted.
 */
import {
  intersectRanges,
  normalizeRanges,
  type Ranges,
  rangesOverlap,
  rangesWithin,
  subtractRanges,
} from "../address/index.ts";
import type { NumberTest } from "./flow.ts";
import type { Meter } from "./meter.ts";

/** The tests of a match, all of which must pass; no two are about one field. */
type Tests = readonly NumberTest[];

/** What may be spent on a question. */
type Spending = {
  /** Counts each match that is looked at. */
  readonly meter: Meter;
  /** How many more pieces may be followed. */
  pieces: number;
};

/**
 * Whether anything is left. `matches`: those that packets of the product may pass, with the tests that some of them may fail.
 * Undefined: it is in too many pieces, or the meter has run out.
 */
export function isAnyLeft(
  product: readonly Ranges[],
  matches: readonly Tests[],
  spending: Spending,
): boolean | undefined {
  const sets = product.slice();
  let met: readonly Tests[] | undefined = matches;
  while (met !== undefined) {
    if (!spending.meter.take(met.length)) return undefined;
    if (met.length === 0) return true;
    const single = met.filter(({ length }) => length < 2);
    const others = met.filter(({ length }) => length > 1);
    if (single.length > 0) {
      if (!takeAway(sets, single)) return false;
      met = meetingOf(sets, others);
    } else {
      const untested = withoutTested(sets, others);
      if (untested.length === others.length) return parted(sets, others, spending);
      met = untested;
    }
  }
  return false;
}

/** Takes what passes one of the matches, which have one test each or none, out of a product; false: nothing is left. */
function takeAway(sets: Ranges[], matches: readonly Tests[]): boolean {
  for (const [field, pairs] of testedIn(matches)) {
    const rest = subtractRanges(setAt(sets, field), normalizeRanges(pairs));
    if (rest.length === 0) return false;
    sets[field] = rest;
  }
  return matches.every(({ length }) => length > 0);
}

/** All that matches test for, by field. */
function testedIn(matches: readonly Tests[]): ReadonlyMap<number, readonly Ranges[number][]> {
  const tested = new Map<number, Ranges[number][]>();
  for (const match of matches) {
    for (const { field, within } of match) {
      const pairs = tested.get(field);
      if (pairs === undefined) tested.set(field, within.slice());
      else pairs.push(...within);
    }
  }
  return tested;
}

function setAt(sets: readonly Ranges[], field: number): Ranges {
  const set = sets[field];
  if (set === undefined) throw new Error(`no field ${field} in a product of ${sets.length}`);
  return set;
}

/** Those of the matches that packets of a product may pass; undefined: all of them pass one. */
function meetingOf(sets: readonly Ranges[], matches: readonly Tests[]): readonly Tests[] | undefined {
  const met: Tests[] = [];
  for (const match of matches) {
    if (!match.every(({ field, within }) => rangesOverlap(within, setAt(sets, field)))) continue;
    const open = match.filter(({ field, within }) => !rangesWithin(within, setAt(sets, field)));
    if (open.length === 0) return undefined;
    met.push(open);
  }
  return met;
}

/** Keeps of each field the values that no match tests for, where there are some; answers with the matches that do not test it. */
function withoutTested(sets: Ranges[], matches: readonly Tests[]): readonly Tests[] {
  let left = matches;
  for (const [field, pairs] of testedIn(matches)) {
    const others = subtractRanges(setAt(sets, field), normalizeRanges(pairs));
    if (others.length === 0) continue;
    sets[field] = others;
    left = left.filter((match) => match.every((test) => test.field !== field));
  }
  return left;
}

/** Parts a product by the match with the fewest tests, and asks the pieces that do not pass it. */
function parted(sets: readonly Ranges[], matches: readonly Tests[], spending: Spending): boolean | undefined {
  const by = matches.reduce((least, match) => (match.length < least.length ? match : least));
  const others = matches.filter((match) => match !== by);
  let passing = sets;
  for (const { field, within } of by) {
    if (--spending.pieces < 0) return undefined;
    const set = setAt(passing, field);
    const failing = passing.with(field, subtractRanges(set, within));
    const met = meetingOf(failing, others);
    const found = met !== undefined && isAnyLeft(failing, met, spending);
    if (found !== false) return found;
    const inside = intersectRanges(set, within);
    // A match may be thought to let some pass, by its lowest and highest values, and let none.
    if (inside.length === 0) return false;
    passing = passing.with(field, inside);
  }
  return false;
}
