/**
 * What a long list of matches looks at, as plain numbers: for each field the lowest and the highest value that a match lets
 * pass, field after field in typed arrays. One pass over them finds the few matches that a set of packets can meet; of a long
 * list that is asked again and again, first with bits, 32 matches at a time: for 64 stretches of each field's line
 * which matches begin in it or before, and which end in it or behind.
 *
 * A superset: holes do not count, and numbers beyond 2^53 (IPv6) are rounded, which keeps their order.
 */
import type { Ranges } from "../address/index.ts";
import { NUMBER_FIELDS } from "./fields.ts";
import { type Flow, type Test, valuesOf } from "./flow.ts";

/** Lowest and highest values of one field, by match. */
type Hull = { readonly field: number; readonly lows: Float64Array; readonly highs: Float64Array };

/** The fields that any of the matches looks at. What is counted and kept makes it faster, and changes no answer. */
export type Hulls = {
  /** In their order. */
  readonly fields: readonly Hull[];
  /** How many matches have been passed over. */
  passed: number;
  /** Made once it pays. */
  bits: readonly Bits[] | undefined;
};

/** The hulls of a list of matches. */
export function hullsOf(matches: readonly (readonly Test[])[]): Hulls {
  const hulls = new Map<number, Hull>();
  matches.forEach((tests, at) => {
    for (const test of tests) {
      if (test.kind !== "number") continue;
      const hull = hulls.get(test.field) ?? openHull(test.field, matches.length);
      hulls.set(test.field, hull);
      // Of several tests on one field all must pass.
      hull.lows[at] = Math.max(hull.lows[at] ?? -Infinity, lowOf(test.within));
      hull.highs[at] = Math.min(hull.highs[at] ?? Infinity, highOf(test.within));
    }
  });
  // Addresses tell most: they are looked at first.
  return { fields: NUMBER_FIELDS.flatMap((_, field) => hulls.get(field) ?? []), passed: 0, bits: undefined };
}

function openHull(field: number, length: number): Hull {
  return {
    field,
    lows: new Float64Array(length).fill(Number.NEGATIVE_INFINITY),
    highs: new Float64Array(length).fill(Number.POSITIVE_INFINITY),
  };
}

function lowOf(set: Ranges): number {
  const [pair] = set;
  return pair === undefined ? Number.POSITIVE_INFINITY : Number(pair[0]);
}

function highOf(set: Ranges): number {
  const pair = set.at(-1);
  return pair === undefined ? Number.NEGATIVE_INFINITY : Number(pair[1]);
}

/** Places of the first `most` matches that may let a packet of a flow pass, ascending. */
export function meeting(hulls: Hulls, flow: Flow, most: number): readonly number[] {
  const { fields } = hulls;
  const wanted = fields.map(({ field }) => hullOf(flow, field));
  if (most < LONG) return passingOver(fields, wanted, most);
  hulls.passed += most;
  if (hulls.bits === undefined && hulls.passed >= PASSES * most) hulls.bits = fields.map(bitsOf);
  const columns = columnsFor(hulls.bits ?? [], wanted);
  return columns.length === 0 ? passingOver(fields, wanted, most) : byBits(columns, fields, wanted, most);
}

/** One after the other. */
function passingOver(
  [first, ...others]: readonly Hull[],
  [extent, ...rest]: readonly Extent[],
  most: number,
): number[] {
  const found: number[] = [];
  if (first === undefined || extent === undefined) {
    for (let at = 0; at < most; at++) found.push(at);
    return found;
  }
  const { lows, highs } = first;
  const [low, high] = extent;
  for (let at = 0; at < most; at++) {
    // Both stay within the arrays, which are as long as the list.
    if ((lows[at] as number) <= high && (highs[at] as number) >= low && meets(others, rest, at)) found.push(at);
  }
  return found;
}

/** Those that have a bit in all columns, each of which is as long as the list. */
function byBits(
  columns: readonly Int32Array[],
  fields: readonly Hull[],
  wanted: readonly Extent[],
  most: number,
): number[] {
  const found: number[] = [];
  for (let word = 0; word * WIDTH < most; word++) {
    let left = -1;
    for (const column of columns) left &= column[word] as number;
    while (left !== 0) {
      const at = word * WIDTH + WIDTH - 1 - Math.clz32(left & -left);
      left &= left - 1;
      if (at < most && meets(fields, wanted, at)) found.push(at);
    }
  }
  return found;
}

type Extent = readonly [low: number, high: number];

function meets(hulls: readonly Hull[], wanted: readonly Extent[], at: number): boolean {
  for (let place = 0; place < hulls.length; place++) {
    // As long as each other.
    const { lows, highs } = hulls[place] as Hull;
    const [low, high] = wanted[place] as Extent;
    if ((lows[at] as number) > high || (highs[at] as number) < low) return false;
  }
  return true;
}

function hullOf(flow: Flow, field: number): Extent {
  const set = valuesOf(flow, field);
  return [lowOf(set), highOf(set)];
}

// -- bits ----------------------------------------------------------------------------------------------------------

/** From this length on matches are looked for with bits. */
const LONG = 1000;
/** Passes over a list before its bits are made, which takes as long as a few of them. */
const PASSES = 16;
/** Bits of a word. */
const WIDTH = 32;
/** Places on the line of a field. */
const EDGES = 63;
/** So many matches tell where the places are. */
const SAMPLE = 1024;

/** Of one field: which matches, a bit each, begin before some places of its line, and which end behind them. */
type Bits = {
  /** The places, ascending. */
  readonly edges: Float64Array;
  /** By stretch between places: the matches that begin in it or before. */
  readonly begun: readonly Int32Array[];
  /** By stretch between places: the matches that end in it or behind. */
  readonly open: readonly Int32Array[];
};

function bitsOf({ lows, highs }: Hull): Bits {
  const edges = edgesOf(lows, highs);
  const empty = (): Int32Array => new Int32Array(Math.ceil(lows.length / WIDTH));
  const begun = Array.from({ length: edges.length + 1 }, empty);
  const open = Array.from({ length: edges.length + 1 }, empty);
  for (let at = 0; at < lows.length; at++) {
    // Both stay within the arrays.
    setBit(begun[stretchOf(edges, lows[at] as number)] as Int32Array, at);
    setBit(open[stretchOf(edges, highs[at] as number)] as Int32Array, at);
  }
  for (let place = 1; place < begun.length; place++) addBits(begun, place, place - 1);
  for (let place = open.length - 2; place >= 0; place--) addBits(open, place, place + 1);
  return { edges, begun, open };
}

/** Places with about as many ends of matches between each two. */
function edgesOf(lows: Float64Array, highs: Float64Array): Float64Array {
  const step = Math.max(1, Math.floor(lows.length / SAMPLE));
  const ends = [...lows, ...highs].filter((end, at) => at % step === 0 && Number.isFinite(end)).sort((a, b) => a - b);
  const places = Array.from(
    { length: EDGES },
    (_, at) => ends[Math.floor(((at + 1) * ends.length) / (EDGES + 1))] ?? 0,
  );
  return Float64Array.from(new Set(places));
}

/** How many places lie at a number or below it. */
function stretchOf(edges: Float64Array, number: number): number {
  let low = 0;
  let high = edges.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((edges[middle] as number) <= number) low = middle + 1;
    else high = middle;
  }
  return low;
}

function setBit(bits: Int32Array, at: number): void {
  const word = Math.floor(at / WIDTH);
  bits[word] = (bits[word] ?? 0) | (1 << (at % WIDTH));
}

function addBits(all: readonly Int32Array[], to: number, from: number): void {
  const more = all[from];
  // Both are there, and of one length.
  all[to]?.forEach((word, at, into) => {
    into[at] = word | (more?.[at] ?? 0);
  });
}

/** The bits that tell something of what is wanted: matches that have a bit in all of them may fit. */
function columnsFor(bits: readonly Bits[], wanted: readonly Extent[]): readonly Int32Array[] {
  return bits.flatMap(({ edges, begun, open }, place) => {
    const [low, high] = wanted[place] as Extent;
    const [from, to] = [stretchOf(edges, low), stretchOf(edges, high)];
    return [...(to < edges.length ? [begun[to] as Int32Array] : []), ...(from > 0 ? [open[from] as Int32Array] : [])];
  });
}
