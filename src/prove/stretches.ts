/**
 * A number line cut into sorted disjoint stretches, each with a value or none: where addresses lead, who answers for
 * them. Sets are cut by a stretch list with one search by halving for each of their ranges.
 */
import { mergeAscending, normalizeRanges, type Ranges } from "../address/index.ts";

/** A stretch of numbers with what holds there. */
export type Stretch<Value> = {
  /** First number. */
  readonly low: bigint;
  /** Last number. */
  readonly high: bigint;
  /** Absent: nothing holds there. */
  readonly value?: Value;
};

/** Numbers of a set with one value. */
export type Piece<Value> = {
  /** The value; absent: none. */
  readonly value?: Value;
  /** The numbers. */
  readonly numbers: Ranges;
};

/** Cuts a set by value, in the order in which the values are met; what lies outside all stretches has none. */
export function cutBy<Value>(stretches: readonly Stretch<Value>[], set: Ranges): readonly Piece<Value>[] {
  const found = new Map<Value | undefined, (readonly [bigint, bigint])[]>();
  for (const pair of set) {
    const [low, high] = pair;
    let from = low;
    for (let at = firstEndingFrom(stretches, low); from <= high; at++) {
      const stretch = stretches[at];
      if (stretch === undefined || stretch.low > high) break;
      if (stretch.low > from) put(found, undefined, [from, stretch.low - 1n]);
      put(found, stretch.value, [larger(stretch.low, from), smaller(stretch.high, high)]);
      from = stretch.high + 1n;
    }
    // Hot: a range that no stretch meets is shared.
    if (from <= high) put(found, undefined, from === low ? pair : [from, high]);
  }
  return [...found].map(([value, pairs]) => ({
    numbers: mergeAscending(pairs),
    ...(value === undefined ? {} : { value }),
  }));
}

function larger(a: bigint, b: bigint): bigint {
  return a < b ? b : a;
}

function smaller(a: bigint, b: bigint): bigint {
  return a < b ? a : b;
}

function put<Value>(
  found: Map<Value | undefined, (readonly [bigint, bigint])[]>,
  value: Value | undefined,
  range: readonly [bigint, bigint],
): void {
  const pairs = found.get(value);
  if (pairs === undefined) found.set(value, [range]);
  else pairs.push(range);
}

/** What holds at a number; undefined: nothing. */
export function valueAt<Value>(stretches: readonly Stretch<Value>[], number: bigint): Value | undefined {
  const stretch = stretches[firstEndingFrom(stretches, number)];
  return stretch === undefined || stretch.low > number ? undefined : stretch.value;
}

/** Place of the first stretch that ends at a number or above it. */
function firstEndingFrom<Value>(stretches: readonly Stretch<Value>[], number: bigint): number {
  let low = 0;
  let high = stretches.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((stretches[middle]?.high ?? number) < number) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** All numbers whose value passes a test. */
export function numbersWhere<Value>(stretches: readonly Stretch<Value>[], test: (value: Value) => boolean): Ranges {
  return normalizeRanges(
    stretches.flatMap(({ low, high, value }) => (value !== undefined && test(value) ? [[low, high] as const] : [])),
  );
}

/** Lays sets over one another: stretches of the numbers in any of them, each with all the values that hold there, in order. */
export function overlaid<Value>(sets: readonly (readonly [Value, Ranges])[]): readonly Stretch<readonly Value[]>[] {
  const edges = sets.flatMap(([value, set]) =>
    set.flatMap(([low, high]) => [
      { at: low, value, opens: true },
      { at: high + 1n, value, opens: false },
    ]),
  );
  edges.sort((a, b) => (a.at === b.at ? 0 : a.at < b.at ? -1 : 1));
  const order = new Map(sets.map(([value], index) => [value, index]));
  const stretches: Stretch<readonly Value[]>[] = [];
  const open = new Set<Value>();
  let from = edges[0]?.at ?? 0n;
  for (const edge of edges) {
    if (edge.at > from && open.size > 0) stretches.push({ low: from, high: edge.at - 1n, value: inOrder(open, order) });
    from = edge.at;
    if (edge.opens) open.add(edge.value);
    else open.delete(edge.value);
  }
  return stretches;
}

function inOrder<Value>(values: ReadonlySet<Value>, order: ReadonlyMap<Value, number>): readonly Value[] {
  return [...values].sort((a, b) => (order.get(a) ?? 0) - (order.get(b) ?? 0));
}
