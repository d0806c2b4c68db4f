/**
 * First match over sets by an interval diagram, built from the top over the matches that are left: at each field the values
 * are parted where a match begins or ends, values that leave the same matches are one edge, and the same matches at the same
 * field are one node. What cannot be met any more, behind a match that takes everything, is left out, and matches that do the
 * same are one leaf; so the diagram stays small where subtracting one match after the other would shatter a set.
 */
import { intersectRanges, type Ranges, rangesEqual, unionRanges } from "../address/index.ts";
import { listOf } from "./by-key.ts";
import { type Flow, narrowedIn, productsOf, setOf, shift, sightOf, type Test } from "./flow.ts";
import type { Meter } from "./meter.ts";
import { cutBy, overlaid } from "./stretches.ts";

/** One match of a list. */
export type Matching = {
  /** What lets packets pass, name tests aside: all of those must pass surely. */
  readonly match: readonly Test[];
  /** Matches with the same word do the same; absent: it is told from all others. */
  readonly alike?: string;
};

/** Packets that one match decides, or others that do the same. */
export type Found = {
  /** Its place in the list, of several the first; -1: no match lets them pass. */
  readonly match: number;
  /** The packets. */
  readonly flow: Flow;
};

/** Which match decides; -1: none. */
type Leaf = { readonly id: number; readonly match: number };

/** Values of one variable that lead to one and the same node. */
type Edge = { readonly values: Ranges; readonly to: Node };

type Inner = { readonly id: number; readonly variable: number; readonly edges: readonly Edge[] };

type Node = Leaf | Inner;

/** A match over the variables of a flow: those that it narrows. */
type Product = {
  readonly sets: ReadonlyMap<number, Ranges>;
  /** Place in the order of the last variable that it narrows; -1: it takes everything. */
  readonly last: number;
};

/** The diagram of one flow and a list of matches. When the meter runs out it is not complete: ask the meter. */
export class Diagram {
  readonly #flow: Flow;
  readonly #meter: Meter;
  /** Variables that any match narrows. */
  readonly #order: readonly number[];
  /** Absent: the match lets no packet of the flow pass. */
  readonly #products: readonly (Product | undefined)[];
  /** For each match the first that does the same. */
  readonly #firsts: readonly number[];
  readonly #nodes = new Map<string, Node>();
  readonly #leaves = new Map<number, Leaf>();
  /** By what they look at and where they lead. */
  readonly #inner = new Map<string, Inner[]>();
  #made = 0;
  readonly #root: Node;

  constructor(flow: Flow, list: readonly Matching[], meter: Meter) {
    this.#flow = flow;
    this.#meter = meter;
    const narrowing = list.map(({ match }) => setsOf(flow, match));
    this.#order = inOrder(narrowing);
    this.#products = narrowing.map((sets) => sets && { sets, last: this.#lastOf(sets) });
    const meeting = this.#products.flatMap((product, at) => (product === undefined ? [] : [at]));
    this.#firsts = firstsOf(list, meeting);
    this.#root = this.#nodeOf(0, this.#met(meeting, 0));
  }

  /** All packets by what decides them, in the order of the list, then those that no match lets pass: disjoint. */
  all(): readonly Found[] {
    const found: Found[] = [];
    this.#gather(this.#root, this.#flow, found);
    const placeOf = ({ match }: Found): number => (match < 0 ? this.#products.length : match);
    return found.sort((a, b) => placeOf(a) - placeOf(b));
  }

  /** Some packets that no match lets pass; undefined: there are none. */
  anyLeft(): Flow | undefined {
    for (const product of productsOf(this.#flow)) {
      const left = leftIn(this.#root, product, new Set());
      if (left !== undefined) return left;
    }
    return undefined;
  }

  #gather(node: Node, flow: Flow, found: Found[]): void {
    if (!this.#meter.take()) return;
    if ("match" in node) found.push({ match: node.match, flow });
    else
      for (const { values, to } of node.edges) {
        // Of a flow of several products not every combination is there.
        const piece = narrowedIn(flow, node.variable, values);
        if (piece !== undefined) this.#gather(to, piece, found);
      }
  }

  // -- building ------------------------------------------------------------------------------------------------------

  #lastOf(sets: ReadonlyMap<number, Ranges>): number {
    return this.#order.findLastIndex((variable) => sets.has(variable));
  }

  #isWhole(match: number, place: number): boolean {
    return (this.#products[match]?.last ?? -1) < place;
  }

  /** Matches that can still be met at a place of the order: those behind one that takes everything from there on cannot. */
  #met(matches: readonly number[], place: number): readonly number[] {
    const end = matches.findIndex((match) => this.#isWhole(match, place));
    return end < 0 ? matches : matches.slice(0, end + 1);
  }

  /** What decides all packets that come to a place with these matches left; undefined: it depends. */
  #decided(matches: readonly number[], place: number): number | undefined {
    const last = matches.at(-1);
    if (last === undefined) return -1;
    if (!this.#isWhole(last, place)) return undefined;
    const first = this.#firsts[last];
    return matches.every((match) => this.#firsts[match] === first) ? first : undefined;
  }

  #nodeOf(from: number, matches: readonly number[]): Node {
    const decided = this.#decided(matches, from);
    if (decided !== undefined) return this.#leafOf(decided);
    const key = `${from}:${matches.join()}`;
    const known = this.#nodes.get(key);
    if (known !== undefined) return known;
    const node = this.#meter.take(matches.length) ? this.#parted(from, matches) : this.#leafOf(-1);
    this.#nodes.set(key, node);
    return node;
  }

  #leafOf(match: number): Leaf {
    const known = this.#leaves.get(match);
    if (known !== undefined) return known;
    const leaf: Leaf = { id: this.#made++, match };
    this.#leaves.set(match, leaf);
    return leaf;
  }

  #parted(from: number, matches: readonly number[]): Node {
    const place = this.#order.findIndex(
      (variable, at) => at >= from && matches.some((match) => this.#products[match]?.sets.has(variable)),
    );
    const variable = this.#order[place];
    if (variable === undefined) throw new Error(`${matches.length} matches narrow nothing behind place ${from}`);
    const edges = new Map<Node, Ranges>();
    for (const { values, survivors } of this.#parts(variable, matches)) {
      const node = this.#nodeOf(place + 1, this.#met(survivors, place + 1));
      edges.set(node, unionRanges(edges.get(node) ?? [], values));
    }
    const [only, ...others] = edges.keys();
    return only !== undefined && others.length === 0 ? only : this.#innerOf(variable, edges);
  }

  /** Nodes that do the same are one, whatever matches they came of. */
  #innerOf(variable: number, edges: ReadonlyMap<Node, Ranges>): Inner {
    // Hot: words are made of where the edges lead, and not of their values, which may be thousands.
    const alike = listOf(this.#inner, `${variable} ${[...edges.keys()].map(({ id }) => id).join(" ")}`);
    const known = alike.find((node) => node.edges.every(({ to, values }) => rangesEqual(values, edges.get(to) ?? [])));
    if (known !== undefined) return known;
    const node: Inner = { id: this.#made++, variable, edges: [...edges].map(([to, values]) => ({ to, values })) };
    alike.push(node);
    return node;
  }

  /** Values of a variable, parted by the matches that let them pass. */
  #parts(variable: number, matches: readonly number[]): Iterable<Part> {
    const narrowing = new Map<number, Ranges>();
    const others: number[] = [];
    for (const match of matches) {
      const set = this.#products[match]?.sets.get(variable);
      if (set === undefined) others.push(match);
      else narrowing.set(match, set);
    }
    const parts = new Map<string, { readonly survivors: readonly number[]; values: Ranges }>();
    for (const { value: passing = [], numbers } of cutBy(overlaid([...narrowing]), setOf(this.#flow, variable))) {
      const key = passing.join();
      const known = parts.get(key);
      if (known !== undefined) known.values = unionRanges(known.values, numbers);
      else parts.set(key, { survivors: [...passing, ...others].sort(byNumber), values: numbers });
    }
    return parts.values();
  }
}

type Part = { readonly values: Ranges; readonly survivors: readonly number[] };

/** Of one product, so that what is left behind a node is so by whatever way that was come to. */
function leftIn(node: Node, flow: Flow, passed: Set<Node>): Flow | undefined {
  if ("match" in node) return node.match < 0 ? flow : undefined;
  if (passed.has(node)) return undefined;
  passed.add(node);
  for (const { values, to } of node.edges) {
    const piece = narrowedIn(flow, node.variable, values);
    const left = piece && leftIn(to, piece, passed);
    if (left !== undefined) return left;
  }
  return undefined;
}

/** For each match the first of those that meet the flow and do the same. */
function firstsOf(list: readonly Matching[], meeting: readonly number[]): readonly number[] {
  const firsts = new Map<string, number>();
  const found: number[] = [];
  for (const at of meeting) {
    const alike = list[at]?.alike;
    found[at] = (alike === undefined ? undefined : firsts.get(alike)) ?? at;
    if (alike !== undefined && !firsts.has(alike)) firsts.set(alike, at);
  }
  return found;
}

/** What a match lets pass of each variable that it narrows; undefined: nothing at all. */
function setsOf(flow: Flow, tests: readonly Test[]): ReadonlyMap<number, Ranges> | undefined {
  const sets = new Map<number, Ranges>();
  for (const test of tests) {
    if (test.kind !== "number") continue;
    const { variable, plus } = sightOf(flow.view, test.field);
    const passing = intersectRanges(sets.get(variable) ?? setOf(flow, variable), shift(test.within, -plus));
    if (passing.length === 0) return undefined;
    if (!rangesEqual(passing, setOf(flow, variable))) sets.set(variable, passing);
  }
  return sets;
}

/**
 * Variables that any match narrows: first those that part least. What has a few values, such as a port among many addresses,
 * leaves few matches to each part; the other way round every address would be parted by every port (measured: a hundredth of
 * the nodes on lists of 50,000 rules).
 */
function inOrder(narrowing: readonly (ReadonlyMap<number, Ranges> | undefined)[]): readonly number[] {
  const ends = new Map<number, Set<bigint>>();
  for (const [variable, set] of narrowing.flatMap((sets) => [...(sets ?? [])])) {
    const known = ends.get(variable) ?? new Set<bigint>();
    ends.set(variable, known);
    for (const [low, high] of set) known.add(low).add(high + 1n);
  }
  return [...ends].sort(([a, here], [b, there]) => here.size - there.size || a - b).map(([variable]) => variable);
}

function byNumber(a: number, b: number): number {
  return a - b;
}
