/**
 * Conditions as functions: each match of the description is turned once into tests over a `PacketView`, and kept by
 * identity. `fits` says the same for plain field values; a test holds it to a naive reading of the conditions.
 */
import { FAMILY_KEYS, intersectRanges, type Ranges } from "../address/index.ts";
import type { Alternatives, Condition, Match, NumberField } from "../network/index.ts";
import { type PacketFields, type PacketView, viewOfFields } from "./packet-view.ts";

/** Whether a packet fits; a private form of `Alternatives`. */
export type Test = (view: PacketView) => boolean;

type NumberKey = {
  [Key in keyof PacketView]: PacketView[Key] extends number ? Key : never;
}[keyof PacketView];

const known = new WeakMap<Alternatives, Test>();

/** The test for alternatives, made once for each list. */
export function testOf(alternatives: Alternatives): Test {
  const earlier = known.get(alternatives);
  if (earlier !== undefined) return earlier;
  const test = anyOf(alternatives.map(testOfMatch));
  known.set(alternatives, test);
  return test;
}

/** Whether a packet with these fields fits one of the matches. */
export function fits(alternatives: Alternatives, fields: PacketFields): boolean {
  return testOf(alternatives)(viewOfFields(fields));
}

function anyOf(tests: readonly Test[]): Test {
  const [only] = tests;
  if (only !== undefined && tests.length === 1) return only;
  return (view) => tests.some((test) => test(view));
}

/** The test for one match: all conditions hold. */
export function testOfMatch(match: Match): Test {
  const tests = match.map(testOfCondition);
  const [first, second] = tests;
  if (first === undefined) return () => true;
  if (second === undefined) return first;
  if (tests.length === 2) return (view) => first(view) && second(view);
  return (view) => tests.every((test) => test(view));
}

function testOfCondition(condition: Condition): Test {
  if ("oneOf" in condition) {
    const { field, oneOf } = condition;
    return (view) => view[field].some((name) => oneOf.includes(name));
  }
  const { field, within } = condition;
  if (field === "source") return addressTest(within, "source4", "source6");
  if (field === "destination") return addressTest(within, "destination4", "destination6");
  return numberTest(within, field);
}

function addressTest(within: Ranges, v4: "source4" | "destination4", v6: "source6" | "destination6"): Test {
  const [, last4] = FAMILY_KEYS[4];
  const four = flat(intersectRanges(within, [FAMILY_KEYS[4]]));
  const six = within.filter(([, high]) => high > last4);
  return (view) =>
    view[v4] >= 0 ? holds(four, view[v4]) : six.some(([low, high]) => view[v6] >= low && view[v6] <= high);
}

function numberTest(within: Ranges, field: Exclude<NumberField, "source" | "destination">): Test {
  const key: NumberKey = field;
  const pairs = flat(within);
  const [low, high] = pairs;
  if (pairs.length === 2 && low !== undefined && high !== undefined) {
    return (view) => view[key] >= low && view[key] <= high;
  }
  return (view) => holds(pairs, view[key]);
}

/** Low and high ends in turn. Values beyond 2^53 only ever bound a range, where rounding up to it is harmless. */
function flat(pairs: readonly (readonly bigint[])[]): readonly number[] {
  return pairs.flatMap((pair) => pair.map(Number));
}

/** Whether ascending ranges hold a value, by halving. */
function holds(pairs: readonly number[], value: number): boolean {
  let low = 0;
  let high = pairs.length / 2 - 1;
  while (low <= high) {
    const middle = (low + high) >> 1;
    if (value < (pairs[2 * middle] ?? 0)) high = middle - 1;
    else if (value > (pairs[2 * middle + 1] ?? 0)) low = middle + 1;
    else return true;
  }
  return false;
}
