/**
 * A flow: a set of packets on their way. `sets` is a product over variables; the first ones are the fields as they
 * were sent, and each rewriting adds one. `view` says which variable (plus a constant) each field of the packet is
 * *now*, so that a condition on the packet as it stands narrows the packets as they were sent.
 */
import {
  intersectRanges,
  type Ranges,
  rangesContain,
  rangesEqual,
  rangesOverlap,
  rangesWithin,
  single,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import type { Condition, Match } from "../network/index.ts";
import {
  DESTINATION_HARDWARE,
  FAMILY,
  ICMP_TYPE,
  NAME_FIELDS,
  NO_NAME,
  NUMBER_FIELDS,
  SOURCE_HARDWARE,
  SOURCE_PORT,
  STATE,
  TCP_FLAGS,
  TRANSLATED,
} from "./fields.ts";
import { isInBoxes, type Parts, partsOf, valuesIn, withinBoxes } from "./parts.ts";

/** What a field of the packet is now: a variable plus a constant. */
export type Sight = {
  /** Place in `Flow.sets`. */
  readonly variable: number;
  /** What is added to the variable. */
  readonly plus: bigint;
};

/** Whether two fields are one and the same. */
export function isSameSight(a: Sight, b: Sight): boolean {
  return a.variable === b.variable && a.plus === b.plus;
}

/** What every field of the packet is now. */
export type View = readonly Sight[];

/** A set of packets on their way. */
export type Flow = {
  /** Values of each variable; none is empty. */
  readonly sets: readonly Ranges[];
  /** Values of each name field. */
  readonly names: readonly (readonly string[])[];
  /** What the number fields are now; behind them those of a quoted packet, if there is one (`followers.ts`). */
  readonly view: View;
  /** Which combinations of some variables there are; undefined: all. */
  readonly parts: Parts | undefined;
};

/** The view of packets as they were sent. */
const SENT: View = NUMBER_FIELDS.map((_, variable) => ({ variable, plus: 0n }));

/** Name fields of packets that no stack has seen. */
export const NO_NAMES: Flow["names"] = NAME_FIELDS.map(() => [NO_NAME]);

/** Packets as they are sent. */
export function flowOf(sets: readonly Ranges[], names: Flow["names"] = NO_NAMES): Flow {
  return { sets, names, view: SENT, parts: undefined };
}

/** A condition on a number, ready to be asked. */
export type NumberTest = {
  /** Tells it from one on names. */
  readonly kind: "number";
  /** Place of the field. */
  readonly field: number;
  /** Values that pass. */
  readonly within: Ranges;
};

/** One condition, ready to be asked. */
export type Test =
  | NumberTest
  | {
      readonly kind: "name";
      /** Place of the field. */
      readonly field: number;
      /** Names that pass. */
      readonly oneOf: readonly string[];
    };

/** The tests of a match, all of which must hold. */
export function testsOf(match: Match): readonly Test[] {
  return match.map(testOf);
}

function testOf(condition: Condition): Test {
  if ("within" in condition) {
    return { kind: "number", field: NUMBER_FIELDS.indexOf(condition.field), within: condition.within };
  }
  const field = NAME_FIELDS.indexOf(condition.field);
  return { kind: "name", field, oneOf: field === TRANSLATED ? endsWith(condition.oneOf) : condition.oneOf };
}

/** `translated` holds one word for both ends together. */
function endsWith(ends: readonly string[]): readonly string[] {
  return ends.length === 0 ? [] : [...ends, "both"];
}

/** Values that a field has now. */
export function valuesOf(flow: Flow, field: number): Ranges {
  const { variable, plus } = sightOf(flow.view, field);
  return shift(setOf(flow, variable), plus);
}

/** What a field is now. */
export function sightOf(view: View, field: number): Sight {
  const sight = view[field];
  if (sight === undefined) throw new Error(`no field ${field} in a view of ${view.length}`);
  return sight;
}

/** The set of a variable. */
export function setOf(flow: Flow, variable: number): Ranges {
  const set = flow.sets[variable];
  if (set === undefined) throw new Error(`no variable ${variable} among ${flow.sets.length}`);
  return set;
}

/** Every number of a set plus a constant. */
export function shift(set: Ranges, plus: bigint): Ranges {
  return plus === 0n ? set : set.map(([low, high]) => [low + plus, high + plus]);
}

/**
 * A flow with another set for one variable: where its combinations are told, with fewer of the values that it has. Whatever is
 * narrowed more than once is narrowed by `narrowedIn`: with one value fewer not all of the others may be there.
 */
export function withSet(flow: Flow, variable: number, set: Ranges): Flow {
  const found = withValues(flow, variable, set);
  if (found === undefined) throw new Error(`no packet has these values of variable ${variable}`);
  return found;
}

/** The same, where there may be no packets; undefined: there are none. */
function withValues(flow: Flow, variable: number, set: Ranges): Flow | undefined {
  const { parts } = flow;
  if (parts?.variables.includes(variable)) return ofBoxes(flow, parts.variables, withinBoxes(parts, variable, set));
  // Hot: a copy and one record of always the same shape cost a third of a spread and `with`.
  const sets = flow.sets.slice();
  sets[variable] = set;
  return { sets, names: flow.names, view: flow.view, parts };
}

/** A flow of these combinations of some variables; undefined: there is none. */
export function ofBoxes(flow: Flow, variables: readonly number[], boxes: Parts["boxes"]): Flow | undefined {
  if (boxes.length === 0) return undefined;
  const sets = flow.sets.slice();
  for (const [place, variable] of variables.entries()) sets[variable] = valuesIn(boxes, place);
  return { sets, names: flow.names, view: flow.view, parts: partsOf(variables, boxes) };
}

/** A flow by products, most flows being one. */
export function productsOf(flow: Flow): readonly Flow[] {
  const { parts } = flow;
  if (parts === undefined) return [flow];
  return parts.boxes.flatMap((box) => ofBoxes(flow, parts.variables, [box]) ?? []);
}

/** Whether a packet with these values of the variables, as many as there are, is one of a flow. */
export function hasPacket({ sets, parts }: Flow, values: readonly bigint[]): boolean {
  const isIn = values.every((value, variable) => rangesContain(sets[variable] ?? [], value));
  return isIn && (parts === undefined || isInBoxes(parts, values.map(single)));
}

/** A flow with other names in one field. */
export function withName(flow: Flow, field: number, names: readonly string[]): Flow {
  return { sets: flow.sets, names: flow.names.with(field, names), view: flow.view, parts: flow.parts };
}

/** A flow whose field becomes any of these values, whatever it was. */
export function rewritten(flow: Flow, field: number, values: Ranges): Flow {
  const variable = flow.sets.length;
  return { ...flow, sets: [...flow.sets, values], view: flow.view.with(field, { variable, plus: 0n }) };
}

/** A flow with one more field, behind all others. */
export function widened(flow: Flow, values: Ranges): Flow {
  const variable = flow.sets.length;
  return { ...flow, sets: [...flow.sets, values], view: [...flow.view, { variable, plus: 0n }] };
}

/** A flow in frames from this station; -1: in none yet. */
export function framedBy(flow: Flow, hardware: bigint): Flow {
  return rewritten(flow, SOURCE_HARDWARE, single(hardware));
}

/** A flow in frames to this station, or to all. */
export function framedTo(flow: Flow, hardware: bigint): Flow {
  return rewritten(flow, DESTINATION_HARDWARE, single(hardware));
}

/** A flow whose field grows by a constant. */
export function moved(flow: Flow, field: number, plus: bigint): Flow {
  const { variable, plus: before } = sightOf(flow.view, field);
  return { ...flow, view: flow.view.with(field, { variable, plus: before + plus }) };
}

/** Packets of a flow whose field has one of these values; undefined: none. */
export function narrowed(flow: Flow, field: number, within: Ranges): Flow | undefined {
  const { variable, plus } = sightOf(flow.view, field);
  return narrowedIn(flow, variable, shift(within, -plus));
}

/** Packets of a flow that have one of these values of a variable; undefined: none. */
export function narrowedIn(flow: Flow, variable: number, wanted: Ranges): Flow | undefined {
  const set = setOf(flow, variable);
  // Hot: most flows are inside or outside as a whole, and nothing is made to see that.
  if (rangesWithin(wanted, set)) return flow;
  if (!rangesOverlap(wanted, set)) return undefined;
  return withValues(flow, variable, intersectRanges(set, wanted));
}

/** Whether some packets of a flow pass a test, others aside. */
export function mayPass(flow: Flow, test: Test): boolean {
  if (test.kind === "name") return (flow.names[test.field] ?? []).some((name) => test.oneOf.includes(name));
  const { variable, plus } = sightOf(flow.view, test.field);
  return rangesOverlap(setOf(flow, variable), shift(test.within, -plus));
}

/** A flow cut in two. */
export type Cut = {
  /** Packets that pass all tests; absent: none. */
  readonly hit?: Flow;
  /** All others, disjoint. */
  readonly rest: readonly Flow[];
};

/** Cuts a flow into what passes all the tests and disjoint pieces of what does not. */
export function cut(flow: Flow, tests: readonly Test[]): Cut {
  const rest: Flow[] = [];
  const hit = cutOff(flow, tests, rest);
  return hit === undefined ? { rest } : { hit, rest };
}

/** The same; what does not pass goes to the end of `rest`. */
export function cutOff(flow: Flow, tests: readonly Test[], rest: Flow[]): Flow | undefined {
  const before = rest.length;
  let hit: Flow | undefined = flow;
  for (const test of tests) {
    if (mayPass(flow, test)) continue;
    rest.push(flow);
    return undefined;
  }
  for (const test of tests) {
    const { inside, outside }: Halves = test.kind === "name" ? cutNames(hit, test) : cutNumbers(hit, test);
    if (outside !== undefined) rest.push(outside);
    hit = inside;
    if (hit !== undefined) continue;
    // Two tests on one variable can each pass something and together nothing.
    rest.length = before;
    rest.push(flow);
    return undefined;
  }
  return hit;
}

/** Packets of a flow that pass all the tests; undefined: none. */
export function passing(flow: Flow, tests: readonly Test[]): Flow | undefined {
  for (const test of tests) if (!mayPass(flow, test)) return undefined;
  let hit: Flow | undefined = flow;
  for (const test of tests) {
    hit = test.kind === "name" ? cutNames(hit, test).inside : narrowed(hit, test.field, test.within);
    if (hit === undefined) return undefined;
  }
  return hit;
}

type Halves = { readonly inside: Flow | undefined; readonly outside: Flow | undefined };

function cutNumbers(flow: Flow, { field, within }: NumberTest): Halves {
  const { variable, plus } = sightOf(flow.view, field);
  const set = setOf(flow, variable);
  const wanted = shift(within, -plus);
  if (rangesWithin(wanted, set)) return { inside: flow, outside: undefined };
  if (!rangesOverlap(wanted, set)) return { inside: undefined, outside: flow };
  return {
    inside: withValues(flow, variable, intersectRanges(set, wanted)),
    outside: withValues(flow, variable, subtractRanges(set, wanted)),
  };
}

function cutNames(flow: Flow, { field, oneOf }: Test & { readonly kind: "name" }): Halves {
  const names = flow.names[field] ?? [];
  const inside = names.filter((name) => oneOf.includes(name));
  if (inside.length === names.length) return { inside: flow, outside: undefined };
  const outside = names.filter((name) => !oneOf.includes(name));
  return {
    inside: inside.length === 0 ? undefined : withName(flow, field, inside),
    outside: withName(flow, field, outside),
  };
}

/** Two pieces of one flow as one, where they differ in the values of one variable alone; undefined: they differ in more. */
export function joint(a: Flow, b: Flow): Flow | undefined {
  if (a.view !== b.view || a.names !== b.names || a.parts !== undefined || b.parts !== undefined) return undefined;
  let differing: number | undefined;
  for (let variable = 0; variable < a.sets.length; variable++) {
    // Hot: most sets are one and the same.
    if (a.sets[variable] === b.sets[variable] || rangesEqual(setOf(a, variable), setOf(b, variable))) continue;
    if (differing !== undefined) return undefined;
    differing = variable;
  }
  return differing === undefined ? a : withSet(a, differing, unionRanges(setOf(a, differing), setOf(b, differing)));
}

/** Packets of a flow that have none of these values in a field; undefined: none. */
export function without(flow: Flow, field: number, values: Ranges): Flow | undefined {
  const { variable, plus } = sightOf(flow.view, field);
  const set = setOf(flow, variable);
  const unwanted = shift(values, -plus);
  if (!rangesOverlap(unwanted, set)) return flow;
  const left = subtractRanges(set, unwanted);
  return left.length === 0 ? undefined : withValues(flow, variable, left);
}

/** The state that tracking gave, or `NO_NAME`. */
export function stateOf(flow: Flow): string {
  return flow.names[STATE]?.[0] ?? NO_NAME;
}

/**
 * Whether every packet of `inner` is one of `outer` that also stands the same way now. Variables that no field of a packet
 * is any more do not matter.
 */
export function covers(outer: Flow, inner: Flow): boolean {
  if (outer.view !== inner.view && outer.view.length !== inner.view.length) return false;
  // Hot: most comparisons end at the ends of packets, which come first.
  for (let variable = 0; variable < SENT.length; variable++)
    if (!holds(setOf(outer, variable), setOf(inner, variable))) return false;
  return (
    outer.names.every((names, field) => (inner.names[field] ?? []).every((name) => names.includes(name))) &&
    outer.view.every((sight, field) => standsWithin(outer, sight, inner, sightOf(inner.view, field))) &&
    (outer.parts === undefined || holdsProducts(outer, outer.parts, inner))
  );
}

/** Whether each product of `inner` lies in one of `outer`; where these hold values that were not sent, only fields that are the same can tell. */
function holdsProducts(outer: Flow, parts: Parts, inner: Flow): boolean {
  const areSame = parts.variables.every(
    (variable) =>
      variable < SENT.length ||
      outer.view.every((sight, field) => sight.variable !== variable || isSameSight(sight, sightOf(inner.view, field))),
  );
  return areSame && productsOf(inner).every(({ sets }) => isInBoxes(parts, sets));
}

/** One word for flows that can cover one another: their family, the fields they have, and whether they quote a packet. */
export function kindOf({ sets, view }: Flow): string {
  const has = (field: number): string => ((sets[field]?.[0]?.[0] ?? -1n) < 0n ? "-" : "+");
  return `${sets[FAMILY]?.[0]?.[0]} ${has(TCP_FLAGS)}${has(ICMP_TYPE)}${has(SOURCE_PORT)} ${view.length}`;
}

function holds(outer: Ranges, inner: Ranges): boolean {
  return outer === inner || rangesWithin(outer, inner);
}

/**
 * A field of `inner` is what it is in `outer`: the same variable, or one and the same value, or one of the values of a
 * variable that nobody sent, which it takes whatever was sent; then all fields that are alike there are alike here.
 */
function standsWithin(outer: Flow, left: Sight, inner: Flow, right: Sight): boolean {
  const isSame = isSameSight(left, right);
  if (isSame && left.variable < SENT.length) return true;
  const [wide, narrow] = [setOf(outer, left.variable), setOf(inner, right.variable)];
  if (isSame) return holds(wide, narrow);
  const one = onlyValue(wide);
  const other = onlyValue(narrow);
  if (one !== undefined && other !== undefined) return one + left.plus === other + right.plus;
  return (
    left.variable >= SENT.length &&
    rangesWithin(shift(wide, left.plus), shift(narrow, right.plus)) &&
    outer.view.every((sight, field) => sight.variable !== left.variable || isShifted(sight, left, inner, field, right))
  );
}

/** Whether another field stands to this one as it does in the other flow. */
function isShifted(sight: Sight, left: Sight, inner: Flow, field: number, right: Sight): boolean {
  const { variable, plus } = sightOf(inner.view, field);
  return variable === right.variable && plus - right.plus === sight.plus - left.plus;
}

/** The value of a set that has just one; undefined: it has more. */
export function onlyValue(set: Ranges): bigint | undefined {
  const [pair] = set;
  return set.length === 1 && pair !== undefined && pair[0] === pair[1] ? pair[0] : undefined;
}
