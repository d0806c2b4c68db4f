/**
 * Random lists of rules and random flows for laws about first match, with oracles that know nothing of how lists are cut: a packet
 * is one value for each variable and one name for each name field, and whether it fits is read off the conditions.
 */
import * as fc from "fast-check";
import {
  FAMILY_KEYS,
  intersectRanges,
  type Ranges,
  ranges,
  rangesContain,
  rangesSize,
} from "../../src/address/index.ts";
import type { Alternatives, Condition, Match, NameField, NumberField } from "../../src/network/index.ts";
import {
  DESTINATION,
  HOP_LIMIT,
  LENGTH,
  NAME_FIELDS,
  NUMBER_FIELDS,
  SOURCE,
  SOURCE_PORT,
  UNIVERSES,
} from "../../src/prove/fields.ts";
import { type Flow, flowOf, moved, rewritten, shift, sightOf } from "../../src/prove/flow.ts";
import { stream } from "./sites.ts";

/** A rule of a random list. */
export type Line = {
  /** Its place. */
  readonly id: number;
  readonly when: Alternatives;
  /** Rules with the same word do the same. */
  readonly word?: string;
};

/** One packet of a flow. */
export type Point = { readonly values: readonly bigint[]; readonly names: readonly string[] };

const origin = { by: "written", span: { file: 0, start: 0, end: 1 } } as const;
const [LOW4] = FAMILY_KEYS[4];
const [LOW6] = FAMILY_KEYS[6];

// -- conditions --------------------------------------------------------------------------------------------------------

/** One to three ranges of small numbers. */
function rangesUpTo(most: number): fc.Arbitrary<Ranges> {
  const pair = fc.tuple(fc.nat({ max: most }), fc.nat({ max: most }));
  return fc
    .array(pair, { minLength: 1, maxLength: 3 })
    .map((pairs) => ranges(...pairs.map(([a, b]) => [BigInt(Math.min(a, b)), BigInt(Math.max(a, b))] as const)));
}

const shifted = (set: Ranges, plus: bigint): Ranges => set.map(([low, high]) => [low + plus, high + plus] as const);

/** Some of sixteen addresses, of one family or of both. */
const addresses: fc.Arbitrary<Ranges> = fc
  .tuple(rangesUpTo(15), fc.constantFrom([LOW4], [LOW4], [LOW6], [LOW4, LOW6]))
  .map(([set, lows]) => ranges(...lows.flatMap((low) => shifted(set, low + 0x0a000000n))));

const SMALL: Partial<Record<NumberField, number>> = {
  sourcePort: 12,
  destinationPort: 12,
  icmpType: 6,
  icmpCode: 2,
  tcpFlags: 8,
  hopLimit: 6,
  length: 60,
};

const number = (field: NumberField, within: fc.Arbitrary<Ranges>): fc.Arbitrary<Condition> =>
  within.map((set) => ({ field, within: set, origin }));
const name = (field: NameField, names: readonly string[]): fc.Arbitrary<Condition> =>
  fc.subarray([...names], { minLength: 1 }).map((oneOf) => ({ field, oneOf, origin }));
const oneEach = (values: readonly bigint[]): fc.Arbitrary<Ranges> =>
  fc.subarray([...values], { minLength: 1 }).map((some) => ranges(...some.map((value) => [value, value] as const)));

/** Names that packets have; conditions name others too. */
const NAMES: readonly (readonly string[])[] = [
  ["", "r/a", "r/b", "r/c"],
  ["", "r/a", "r/b"],
  ["", "new", "established", "related"],
  ["", "source", "destination", "both"],
];

const numberCondition: fc.Arbitrary<Condition> = fc.oneof(
  { weight: 3, arbitrary: number("source", addresses) },
  { weight: 3, arbitrary: number("destination", addresses) },
  { weight: 2, arbitrary: number("protocol", oneEach([1n, 6n, 17n, 47n, 58n, 132n])) },
  number("family", oneEach([4n, 6n])),
  ...Object.entries(SMALL).map(([field, most]) => ({
    weight: field === "destinationPort" ? 3 : 1,
    // The keys are fields.
    arbitrary: number(field as NumberField, rangesUpTo(most)),
  })),
);
const nameCondition: fc.Arbitrary<Condition> = fc.oneof(
  name("ingress", ["r/a", "r/b", "r/c", "r/d"]),
  name("egress", ["r/a", "r/b"]),
  name("state", ["new", "established", "related", "invalid"]),
  name("translated", ["source", "destination"]),
);

/** What a list is made of. */
export type Kind = {
  /** Conditions of a match at least. */
  readonly atLeast: number;
  /** Of ten conditions so many look at names. */
  readonly named: number;
  readonly most: number;
};

/** Lists of rules with one or two matches each. */
export function listsOf({ atLeast, named, most }: Kind): fc.Arbitrary<readonly Line[]> {
  const condition = fc.oneof(
    { weight: 10 - named, arbitrary: numberCondition },
    { weight: named, arbitrary: nameCondition },
  );
  const match: fc.Arbitrary<Match> = fc.array(condition, { minLength: atLeast, maxLength: 3 });
  const when = fc.oneof(
    { weight: 4, arbitrary: fc.tuple(match) },
    { weight: 1, arbitrary: fc.array(match, { maxLength: 2 }) },
  );
  const word = fc.option(fc.constantFrom("accept", "accept", "other"), { nil: undefined });
  return fc
    .array(fc.record({ when, word }), { minLength: 1, maxLength: most, size: "max" })
    .map((lines) => lines.map(({ when, word }, id) => ({ id, when, ...(word === undefined ? {} : { word }) })));
}

// -- flows -------------------------------------------------------------------------------------------------------------

/** What becomes of a flow on its way. */
export const TURNS: Readonly<Record<string, (flow: Flow, set: Ranges) => Flow>> = {
  destination: (flow, set) => rewritten(flow, DESTINATION, shifted(set, lowOf(flow))),
  source: (flow, set) => rewritten(flow, SOURCE, shifted(set, lowOf(flow))),
  port: (flow, set) => (hasPorts(flow) ? rewritten(flow, SOURCE_PORT, set) : flow),
  "port moved": (flow) => (hasPorts(flow) ? moved(flow, SOURCE_PORT, 3n) : flow),
  hop: (flow) => moved(flow, HOP_LIMIT, -1n),
  length: (flow) => moved(flow, LENGTH, 20n),
  "destination moved": (flow) => moved(flow, DESTINATION, -2n),
  // The destination is the source, three above: an answer to where it came from.
  alike: (flow) => {
    const { variable, plus } = sightOf(flow.view, SOURCE);
    return { ...flow, view: flow.view.with(DESTINATION, { variable, plus: plus + 3n }) };
  },
  "all ports alike": (flow) => ({ ...flow, view: flow.view.with(SOURCE_PORT + 1, sightOf(flow.view, SOURCE_PORT)) }),
};

const hasPorts = ({ sets }: Flow): boolean => (sets[SOURCE_PORT]?.[0]?.[0] ?? -1n) >= 0n;
const lowOf = ({ sets }: Flow): bigint => (sets[0]?.[0]?.[0] === 4n ? LOW4 : LOW6) + 0x0a000000n;

/** A flow as it is now, and what became of it. */
export type Travelled = { readonly flow: Flow; readonly turns: readonly string[] };

/** Flows of one kind of packet, all of them or few, at most so often rewritten. */
export function flowsOn(mostTurns: number, severalNames: boolean): fc.Arbitrary<Travelled> {
  const names = fc.tuple(
    ...NAMES.map((all) => fc.subarray([...all], { minLength: 1, maxLength: severalNames ? all.length : 1 })),
  );
  const one = fc.nat({ max: 15 }).map((low): Ranges => ranges([BigInt(low), BigInt(low)]));
  const some = fc.oneof(rangesUpTo(15), one);
  const turn = fc.tuple(fc.constantFrom(...Object.keys(TURNS)), some);
  const few = fc.option(fc.tuple(some, some), { nil: undefined });
  return fc
    .tuple(fc.constantFrom(...UNIVERSES), names, few, fc.array(turn, { maxLength: mostTurns }))
    .map(([universe, words, ends, turns]) => {
      const all = flowOf(universe, words);
      const sets = all.sets.map((set, field) => {
        const within = field === SOURCE ? ends?.[0] : field === DESTINATION ? ends?.[1] : undefined;
        return within === undefined ? set : intersectRanges(set, shifted(within, lowOf(all)));
      });
      const flow = turns.reduce<Flow>((before, [which, set]) => TURNS[which]?.(before, set) ?? before, {
        ...all,
        sets,
      });
      return { flow, turns: turns.map(([which]) => which) };
    });
}

// -- oracles -----------------------------------------------------------------------------------------------------------

/** Reads a match as the description says it. */
function fits(match: Match, { view }: Flow, { values, names }: Point): boolean {
  return match.every((condition) => {
    if ("oneOf" in condition) {
      const word = names[NAME_FIELDS.indexOf(condition.field)] ?? "";
      const oneOf: readonly string[] = condition.oneOf;
      return oneOf.includes(word) || (condition.field === "translated" && word === "both");
    }
    const { variable, plus } = sightOf(view, NUMBER_FIELDS.indexOf(condition.field));
    return rangesContain(condition.within, (values[variable] ?? -1n) + plus);
  });
}

/** The first rule that fits. */
export function naive<Rule extends { readonly when: Alternatives }>(
  rules: readonly Rule[],
  flow: Flow,
  point: Point,
): Rule | undefined {
  return rules.find(({ when }) => when.some((match) => fits(match, flow, point)));
}

/** Whether a packet is one of a flow. */
export function holds({ sets, names }: Flow, point: Point): boolean {
  return (
    sets.every((set, variable) => rangesContain(set, point.values[variable] ?? -1n)) &&
    names.every((each, field) => each.includes(point.names[field] ?? ""))
  );
}

/** How many packets there are in two flows both. */
export function sizeOfBoth(a: Flow, b: Flow): bigint {
  let size = 1n;
  for (const [variable, set] of a.sets.entries()) {
    const other = b.sets[variable] ?? [];
    size *= rangesSize(set === other ? set : intersectRanges(set, other));
    if (size === 0n) return 0n;
  }
  for (const [field, names] of a.names.entries()) {
    size *= BigInt(names.filter((each) => b.names[field]?.includes(each)).length);
  }
  return size;
}

/** How many packets a flow has. */
export function sizeOf(flow: Flow): bigint {
  return sizeOfBoth(flow, flow);
}

/** How many packets disjoint flows have. */
function sizeOfAll(flows: readonly Flow[]): bigint {
  return flows.reduce((sum, flow) => sum + sizeOf(flow), 0n);
}

/** Whether two lists of disjoint flows are the same packets. */
export function isSame(a: readonly Flow[], b: readonly Flow[]): boolean {
  const size = sizeOfAll(a);
  if (size !== sizeOfAll(b)) return false;
  let both = 0n;
  for (const one of a) for (const other of b) both += sizeOfBoth(one, other);
  return both === size;
}

/** Whether flows are disjoint and together one flow. */
export function isParted(flow: Flow, pieces: readonly Flow[]): boolean {
  const areApart = pieces.every((piece, at) => pieces.slice(at + 1).every((other) => sizeOfBoth(piece, other) === 0n));
  const areIn = pieces.every((piece) => piece.view === flow.view && sizeOfBoth(flow, piece) === sizeOf(piece));
  return areApart && areIn && sizeOfAll(pieces) === sizeOf(flow);
}

// -- packets -----------------------------------------------------------------------------------------------------------

/** Packets of a flow at both ends of each condition of a list, one below and one above, and `more` anywhere. */
export function pointsOf(flow: Flow, rules: readonly Line[], more: number, seed: number): readonly Point[] {
  const next = stream(seed + 1);
  const conditions = rules.flatMap(({ when }) =>
    when.flatMap((match) => match.map((condition) => ({ match, condition }))),
  );
  const edges = flow.sets.map((set) => set.flatMap((pair) => [...pair]));
  const found: Point[] = [];
  for (const { match, condition } of conditions) {
    if (!("within" in condition)) continue;
    const { variable, plus } = sightOf(flow.view, NUMBER_FIELDS.indexOf(condition.field));
    for (const [low, high] of shift(condition.within, -plus)) {
      for (const edge of [low - 1n, low, high, high + 1n]) {
        if (!rangesContain(flow.sets[variable] ?? [], edge)) continue;
        edges[variable]?.push(edge);
        const { values, names } = near(flow, match, next);
        found.push({ values: values.with(variable, edge), names });
      }
    }
  }
  // From the edges of all conditions together, so that several are on their edge at once.
  const anywhere = Array.from(
    { length: more },
    (): Point => ({
      values: edges.map((each) => pick(each, next)),
      names: flow.names.map((each) => pick(each, next)),
    }),
  );
  return [...found, ...anywhere];
}

/** A packet of a flow that fits a match where it can. */
function near(flow: Flow, match: Match, next: (below: number) => number): Point {
  const values = flow.sets.map((set) => valueIn(set, next));
  const names = flow.names.map((each) => pick(each, next));
  for (const condition of match) {
    if ("oneOf" in condition) {
      const field = NAME_FIELDS.indexOf(condition.field);
      const word = flow.names[field]?.find((each) => (condition.oneOf as readonly string[]).includes(each));
      if (word !== undefined) names[field] = word;
      continue;
    }
    const { variable, plus } = sightOf(flow.view, NUMBER_FIELDS.indexOf(condition.field));
    const inside = intersectRanges(flow.sets[variable] ?? [], shift(condition.within, -plus));
    if (inside.length > 0) values[variable] = valueIn(inside, next);
  }
  return { values, names };
}

function valueIn(set: Ranges, next: (below: number) => number): bigint {
  const [low, high] = pick(set, next);
  const length = high - low + 1n;
  return low + BigInt(next(length > 1_000_000n ? 1_000_000 : Number(length)));
}

function pick<Value>(values: readonly Value[], next: (below: number) => number): Value {
  const value = values[next(values.length)];
  if (value === undefined) throw new Error("nothing to pick from");
  return value;
}
