/**
 * What a long list of matches looks at, as plain numbers: for each field the lowest and the highest value that a match lets
 * pass, field after field in typed arrays. One pass over them finds the few matches that a set of packets can meet; of a long
 * list that is asked again and again, first with bits, 32 matches at a time: for 64 stretches of each field's line
 * which matches begin in it or before, and which end in it or behind.
 *
 * A superset: holes do not count, and numbers beyond 2^53 (IPv6) are rounded, which keeps their order.
 */
import { type Ranges, rangesWithin } from "../address/index.ts";
import { type Flow, type Test, valuesOf } from "./flow.ts";

/** Lowest and highest values of one field, by match. */
type Hull = {
  readonly field: number;
  readonly lows: Float64Array;
  readonly highs: Float64Array;
  /** The last test on the field, by match; absent: it has none. */
  readonly tests: (Test | undefined)[];
};

/** The fields that any of the matches looks at. What is counted and kept makes it faster, and changes no answer. */
export type Hulls = {
  /** What they are of. */
  readonly matches: readonly (readonly Test[])[];
  /** In their order. */
  readonly fields: readonly Hull[];
  /** By match: 1 where its hulls are all that it looks at. */
  readonly plain: Uint8Array;
  /** A bit each: 0 for a match that was forgotten. */
  readonly kept: Int32Array;
  /** Room to work in, as long as `kept`. */
  readonly room: Int32Array;
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
      hull.tests[at] = test;
      // Of several tests on one field all must pass.
      hull.lows[at] = Math.max(hull.lows[at] ?? -Infinity, lowOf(test.within));
      hull.highs[at] = Math.min(hull.highs[at] ?? Infinity, highOf(test.within));
    }
  });
  // Addresses tell most: they are looked at first.
  const fields = [...hulls.values()].sort((a, b) => a.field - b.field);
  const kept = new Int32Array(Math.ceil(matches.length / WIDTH)).fill(-1);
  const plain = Uint8Array.from(matches, (tests) => (isPlain(tests) ? 1 : 0));
  return { matches, fields, plain, kept, room: kept.slice(), passed: 0, bits: undefined };
}

/** Leaves a match out from now on, where it looks at any field. */
export function forget({ fields: [first], kept }: Hulls, at: number): void {
  if (first === undefined) return;
  first.lows[at] = Number.POSITIVE_INFINITY;
  kept[Math.floor(at / WIDTH)] = (kept[Math.floor(at / WIDTH)] ?? 0) & ~(1 << (at % WIDTH));
}

function openHull(field: number, length: number): Hull {
  return {
    field,
    lows: new Float64Array(length).fill(Number.NEGATIVE_INFINITY),
    highs: new Float64Array(length).fill(Number.POSITIVE_INFINITY),
    tests: new Array(length),
  };
}

/** One test a field, each for one range of numbers that are not rounded. */
function isPlain(tests: readonly Test[]): boolean {
  for (let at = 0; at < tests.length; at++) {
    const test = tests[at] as Test; // within the list
    if (test.kind === "name" || test.within.length !== 1 || highOf(test.within) > Number.MAX_SAFE_INTEGER) return false;
    for (let other = 0; other < at; other++) if (tests[other]?.field === test.field) return false;
  }
  return true;
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
  return meetingWithin(hulls, wantedOf(hulls, flow), most);
}

/** A match that may let a packet of a flow pass. */
export type Met = {
  /** Its place. */
  readonly at: number;
  /** Those of its tests that some packets may fail. */
  readonly tests: readonly Test[];
};

/**
 * Of the first `most` matches those that may let a packet of a flow pass, up to the first that lets all of them pass. That
 * one, the last, has no tests.
 */
export function meetingTests(hulls: Hulls, flow: Flow, most: number): readonly Met[] {
  const wanted = wantedOf(hulls, flow);
  const met: Met[] = [];
  for (const at of meetingWithin(hulls, wanted, most)) {
    const tests = openTests(hulls, flow, wanted, at);
    met.push({ at, tests });
    if (tests.length === 0) break;
  }
  return met;
}

/** The tests of a match that some packets of a flow may fail: of one with a plain hull, told without a look at what it tests. */
function openTests(
  { fields, matches, plain }: Hulls,
  flow: Flow,
  wanted: readonly Extent[],
  at: number,
): readonly Test[] {
  // Places are those of the matches.
  if (plain[at] === 0) return (matches[at] as readonly Test[]).filter((test) => !surely(flow, test));
  const open: Test[] = [];
  for (let place = 0; place < fields.length; place++) {
    // As long as each other.
    const { lows, highs, tests } = fields[place] as Hull;
    const [low, high] = wanted[place] as Extent;
    if ((lows[at] as number) <= low && (highs[at] as number) >= high) continue;
    const test = tests[at];
    if (test !== undefined) open.push(test);
  }
  return open;
}

function surely(flow: Flow, test: Test): boolean {
  return test.kind === "number" && rangesWithin(test.within, valuesOf(flow, test.field));
}

function wantedOf({ fields }: Hulls, flow: Flow): readonly Extent[] {
  return fields.map(({ field }) => hullOf(flow, field));
}

function meetingWithin(hulls: Hulls, wanted: readonly Extent[], most: number): readonly number[] {
  const { fields } = hulls;
  if (most < LONG) return passingOver(fields, wanted, most);
  hulls.passed += most;
  if (hulls.bits === undefined && hulls.passed >= PASSES * most) hulls.bits = fields.map(bitsOf);
  const columns = columnsFor(hulls.bits ?? [], wanted);
  return columns.length === 0 ? passingOver(fields, wanted, most) : byBits(columns, hulls, wanted, most);
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

/** Those that are kept and have a bit in all columns, each of which is as long as the list. */
function byBits(
  columns: readonly Int32Array[],
  { fields, kept, room }: Hulls,
  wanted: readonly Extent[],
  most: number,
): number[] {
  const found: number[] = [];
  const length = Math.ceil(most / WIDTH);
  let before = kept;
  for (const column of columns) {
    // All of them stay within the arrays.
    for (let word = 0; word < length; word++) room[word] = (before[word] as number) & (column[word] as number);
    before = room;
  }
  for (let word = 0; word < length; word++) {
    let left = before[word] as number;
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
const LONG = 128;
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
  const columns: Int32Array[] = [];
  for (let place = 0; place < bits.length; place++) {
    // As long as each other.
    const { edges, begun, open } = bits[place] as Bits;
    const [low, high] = wanted[place] as Extent;
    const [from, to] = [stretchOf(edges, low), stretchOf(edges, high)];
    if (to < edges.length) columns.push(begun[to] as Int32Array);
    if (from > 0) columns.push(open[from] as Int32Array);
  }
  return columns;
}
