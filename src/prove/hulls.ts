/**
 * What a long list of matches looks at, as plain numbers: for each field the lowest and the highest value that a match lets
 * pass, field after field in typed arrays. One pass over them finds the few matches that a set of packets can meet.
 *
 * A superset: holes do not count, and numbers beyond 2^53 (IPv6) are rounded, which keeps their order.
 */
import type { Ranges } from "../address/index.ts";
import { NUMBER_FIELDS } from "./fields.ts";
import { type Flow, type Test, valuesOf } from "./flow.ts";

/** Lowest and highest values of one field, by match. */
type Hull = { readonly field: number; readonly lows: Float64Array; readonly highs: Float64Array };

/** The fields that any of the matches looks at. */
export type Hulls = readonly Hull[];

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
  return NUMBER_FIELDS.flatMap((_, field) => hulls.get(field) ?? []);
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
  const [first, ...others] = hulls;
  const found: number[] = [];
  if (first === undefined) {
    for (let at = 0; at < most; at++) found.push(at);
    return found;
  }
  const wanted = others.map(({ field }) => hullOf(flow, field));
  const { lows, highs } = first;
  const [low, high] = hullOf(flow, first.field);
  for (let at = 0; at < most; at++) {
    // Both stay within the arrays, which are as long as the list.
    if ((lows[at] as number) <= high && (highs[at] as number) >= low && meets(others, wanted, at)) found.push(at);
  }
  return found;
}

type Extent = readonly [low: number, high: number];

function meets(hulls: Hulls, wanted: readonly Extent[], at: number): boolean {
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
