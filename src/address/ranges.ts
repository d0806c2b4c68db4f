/**
 * Sets of numbers as ranges: inclusive at both ends, ascending, disjoint, and merged where they touch, so that one
 * set has exactly one form. Every function takes that form and answers in it; only `normalizeRanges` and `ranges` take
 * pairs in any order. Union, intersection and difference walk both lists once.
 */

/** A set of numbers; the empty list is the empty set. */
export type Ranges = readonly (readonly [low: bigint, high: bigint])[];

/** The set without members. */
export const EMPTY_RANGES: Ranges = [];

type Pair = readonly [low: bigint, high: bigint];

/** The set of all numbers in any of the pairs, which may overlap and stand in any order; pairs that end before they begin are empty. */
export function normalizeRanges(pairs: Iterable<Pair>): Ranges {
  const full = [...pairs].filter(([low, high]) => low <= high);
  full.sort((a, b) => compare(a[0], b[0]));
  return mergeAscending(full);
}

function compare(a: bigint, b: bigint): number {
  if (a === b) return 0;
  return a < b ? -1 : 1;
}

/** The same of pairs that ascend by their low ends, none of which is empty: without a look at their order. */
export function mergeAscending(pairs: readonly Pair[]): Ranges {
  const merged: Pair[] = [];
  for (const pair of pairs) {
    const last = merged[merged.length - 1];
    if (last === undefined || pair[0] > last[1] + 1n) merged.push(pair);
    else if (pair[1] > last[1]) merged[merged.length - 1] = [last[0], pair[1]];
  }
  return merged;
}

/** The set of all numbers in any of the pairs. */
export function ranges(...pairs: readonly Pair[]): Ranges {
  return normalizeRanges(pairs);
}

/** The set of these numbers. */
export function rangesOf(numbers: Iterable<bigint>): Ranges {
  return normalizeRanges([...numbers].map((number) => [number, number] as const));
}

/** The numbers from `low` to `high`, both included; empty when `high` is below `low`. */
export function rangeOf(low: bigint, high: bigint): Ranges {
  return low <= high ? [[low, high]] : EMPTY_RANGES;
}

/** The set of one number. */
export function single(value: bigint): Ranges {
  return [[value, value]];
}

/** Numbers in either set. */
export function unionRanges(a: Ranges, b: Ranges): Ranges {
  if (a.length === 0) return b;
  if (b.length === 0) return a;
  return mergeAscending(interleave(a, b));
}

/** Pairs of both lists, ascending by low end. */
function interleave(a: Ranges, b: Ranges): readonly Pair[] {
  const pairs: Pair[] = [];
  let i = 0;
  for (const pair of b) {
    for (let next = a[i]; next !== undefined && next[0] <= pair[0]; next = a[++i]) pairs.push(next);
    pairs.push(pair);
  }
  for (let next = a[i]; next !== undefined; next = a[++i]) pairs.push(next);
  return pairs;
}

// Math.min and Math.max know no bigint.
function smaller(a: bigint, b: bigint): bigint {
  if (b < a) return b;
  return a;
}

function larger(a: bigint, b: bigint): bigint {
  if (b > a) return b;
  return a;
}

/** Numbers in both sets. */
export function intersectRanges(a: Ranges, b: Ranges): Ranges {
  const common: Pair[] = [];
  let i = 0;
  let j = 0;
  for (let left = a[i], right = b[j]; left !== undefined && right !== undefined; left = a[i], right = b[j]) {
    const low = larger(left[0], right[0]);
    const high = smaller(left[1], right[1]);
    // Hot: a piece that is inside as a whole is shared.
    if (low <= high) common.push(low === left[0] && high === left[1] ? left : [low, high]);
    if (left[1] < right[1]) i++;
    else j++;
  }
  // Both lists are merged, so two pieces of the result never touch.
  return common;
}

/** Numbers in `a` that are not in `b`. The complement within a universe is `subtractRanges(universe, b)`. */
export function subtractRanges(a: Ranges, b: Ranges): Ranges {
  if (a.length === 0 || b.length === 0) return a;
  const left: Pair[] = [];
  let j = 0;
  for (const pair of a) {
    const [low, high] = pair;
    let from = low;
    while (j < b.length && (b[j]?.[1] ?? 0n) < from) j++;
    for (let k = j, hole = b[k]; hole !== undefined && hole[0] <= high; hole = b[++k]) {
      if (from < hole[0]) left.push([from, hole[0] - 1n]);
      from = hole[1] + 1n;
    }
    if (from <= high) left.push(from === low ? pair : [from, high]);
  }
  return left;
}

/** Whether a number is in the set, found by halving. */
export function rangesContain(set: Ranges, value: bigint): boolean {
  let low = 0;
  let high = set.length - 1;
  while (low <= high) {
    const middle = (low + high) >> 1;
    const pair = set[middle];
    if (pair === undefined) return false;
    if (value < pair[0]) high = middle - 1;
    else if (value > pair[1]) low = middle + 1;
    else return true;
  }
  return false;
}

/** Whether two sets have the same members. */
export function rangesEqual(a: Ranges, b: Ranges): boolean {
  if (a === b) return true;
  if (a.length !== b.length) return false;
  for (let i = 0; i < a.length; i++) {
    // Both lists are of one length.
    const [left, right] = [a[i] as Pair, b[i] as Pair];
    if (left[0] !== right[0] || left[1] !== right[1]) return false;
  }
  return true;
}

/** Whether every member of `inner` is in `outer`. */
export function rangesWithin(outer: Ranges, inner: Ranges): boolean {
  let i = 0;
  for (const [low, high] of inner) {
    while (i < outer.length && (outer[i]?.[1] ?? 0n) < low) i++;
    const around = outer[i];
    if (around === undefined || around[0] > low || high > around[1]) return false;
  }
  return true;
}

/** Whether two sets share a member. */
export function rangesOverlap(a: Ranges, b: Ranges): boolean {
  let i = 0;
  for (const [low, high] of b) {
    while (i < a.length && (a[i]?.[1] ?? 0n) < low) i++;
    const near = a[i];
    if (near === undefined) return false;
    if (near[0] <= high) return true;
  }
  return false;
}

/** How many numbers the set has. */
export function rangesSize(set: Ranges): bigint {
  return set.reduce((sum, [low, high]) => sum + high - low + 1n, 0n);
}

/** Whether the set has no members. */
export function isEmptyRanges(set: Ranges): boolean {
  return set.length === 0;
}
