/**
 * Sets of packets told by their source and destination alone: pieces of which each is all combinations of some sources and
 * some destinations, put together so that no destination is in two of them.
 */
import { normalizeRanges, type Ranges, rangesEqual, subtractRanges, unionRanges } from "../address/index.ts";
import { overlaid } from "./stretches.ts";

/** All combinations of some sources and some destinations, as keys. */
export type Square = {
  /** Of each of these. */
  readonly sources: Ranges;
  /** To each of these. */
  readonly destinations: Ranges;
};

/** The same combinations: pieces with disjoint destinations, of which no two have the same sources. */
export function arranged(squares: readonly Square[]): readonly Square[] {
  if (squares.length < 2) return squares;
  const byDestinations = merged(squares, "destinations", "sources");
  if (byDestinations.length < 2) return byDestinations;
  return merged(stretched(byDestinations), "sources", "destinations");
}

/** What is left of a piece without these, arranged ones. */
export function left(square: Square, known: readonly Square[]): readonly Square[] {
  let { destinations } = square;
  const found: Square[] = [];
  for (const each of known) {
    const others = subtractRanges(destinations, each.destinations);
    const sources = subtractRanges(square.sources, each.sources);
    if (rangesEqual(others, destinations)) continue;
    if (sources.length > 0) found.push({ sources, destinations: subtractRanges(destinations, others) });
    destinations = others;
    if (destinations.length === 0) break;
  }
  return destinations.length === 0 ? found : [...found, { sources: square.sources, destinations }];
}

type Side = keyof Square;

/** Those that are alike on one side as one, with all that they have on the other. */
function merged(squares: readonly Square[], alike: Side, joined: Side): readonly Square[] {
  const found: { sources: Ranges; destinations: Ranges }[] = [];
  for (const square of squares) {
    const same = found.find((each) => each[alike] === square[alike] || rangesEqual(each[alike], square[alike]));
    if (same === undefined) found.push({ ...square });
    else same[joined] = unionRanges(same[joined], square[joined]);
  }
  return found;
}

/** One piece for all stretches of destinations that are in the same pieces. */
function stretched(squares: readonly Square[]): readonly Square[] {
  const order = new Map(squares.map((square, place) => [square, place]));
  const found = new Map<string, { readonly in: readonly Square[]; readonly ranges: (readonly [bigint, bigint])[] }>();
  for (const { low, high, value = [] } of overlaid(squares.map((square) => [square, square.destinations] as const))) {
    const key = value.map((square) => order.get(square)).join(" ");
    const known = found.get(key);
    if (known === undefined) found.set(key, { in: value, ranges: [[low, high]] });
    else known.ranges.push([low, high]);
  }
  return [...found.values()].map(({ in: all, ranges }) => ({
    sources: normalizeRanges(all.flatMap(({ sources }) => sources)),
    destinations: normalizeRanges(ranges),
  }));
}
