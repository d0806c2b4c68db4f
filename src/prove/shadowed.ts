/**
 * Rules that never decide anything: whatever fits them fits one before them. Asked of what the matches before a rule leave of it
 * (`leftover.ts`); a rule that shatters on the way is asked of a diagram. A rule that never decides anything is left out from then
 * on: it takes nothing away that others do not.
 */
import { intersectRanges, normalizeRanges, type Ranges, rangeOf, rangesOverlap } from "../address/index.ts";
import { Diagram } from "./diagram.ts";
import { NAME_FIELDS, NO_NAME, NUMBER_FIELDS, UNIVERSES } from "./fields.ts";
import { type Flow, flowOf, type NumberTest, setOf, type Test, testsOf, widened } from "./flow.ts";
import { forget, type Hulls, hullsOf, meetingTests } from "./hulls.ts";
import { isAnyLeft } from "./leftover.ts";
import { Meter } from "./meter.ts";
import type { Conditional } from "./rules.ts";

/** What becomes of each rule of a list, in order. */
export type Shadowed = {
  /** Places of rules that never decide anything. */
  readonly places: readonly number[];
  /** Places of rules of which nobody knows within the limit. */
  readonly undecided: readonly number[];
  /** Steps of work. */
  readonly steps: number;
};

/** Pieces that are followed one by one before a diagram is built. */
const SHATTERED = 500;

/** The matches of all rules. */
type Listed = {
  /** In the order of the rules; names are numbers, in fields behind those of a packet. */
  readonly matches: readonly (readonly NumberTest[])[];
  readonly hulls: Hulls;
  /** All packets, by kind. */
  readonly kinds: readonly Flow[];
};

/** Asks every rule of a list whether it decides any packet. `limitSteps`: for each rule. */
export function shadowedIn(rules: readonly Conditional[], limitSteps: number): Shadowed {
  const tests = rules.map(({ when }) => when.map(testsOf));
  const names = namesIn(tests.flat());
  const ofRules = tests.map((matches) => matches.flatMap((match) => numbered(match, names)));
  const matches = ofRules.flat();
  const listed = { matches, hulls: hullsOf(matches), kinds: kindsWith(names) };
  const places: number[] = [];
  const undecided: number[] = [];
  let [first, steps] = [0, 0];
  for (const [place, { length }] of ofRules.entries()) {
    const meter = new Meter(limitSteps);
    if (!isDeciding(listed, first, length, meter)) (meter.exceeded ? undecided : places).push(place);
    steps += meter.spent;
    first += length;
  }
  return { places, undecided, steps };
}

/** Every name that any of the matches looks at, and none of them. */
function namesIn(matches: readonly (readonly Test[])[]): Flow["names"] {
  const names = NAME_FIELDS.map(() => new Set<string>([NO_NAME]));
  for (const test of matches.flat()) {
    if (test.kind === "name") for (const name of test.oneOf) names[test.field]?.add(name);
  }
  return names.map((each) => [...each]);
}

/** All packets with all these names, which are fields of numbers like the others. */
function kindsWith(names: Flow["names"]): readonly Flow[] {
  return UNIVERSES.map((universe) =>
    names.reduce((flow, { length }) => widened(flow, rangeOf(0n, BigInt(length - 1))), flowOf(universe)),
  );
}

/** A match with one test for each field, names by their place among all of them; none: nothing passes. */
function numbered(tests: readonly Test[], names: Flow["names"]): readonly (readonly NumberTest[])[] {
  if (tests.every((test, at) => isAlone(test, tests, at))) return [tests as readonly NumberTest[]]; // none is on names
  const found = new Map<number, Ranges>();
  for (const test of tests) {
    const field = test.kind === "number" ? test.field : NUMBER_FIELDS.length + test.field;
    const within = test.kind === "number" ? test.within : placesOf(test.oneOf, names[test.field] ?? []);
    const known = found.get(field);
    found.set(field, known === undefined ? within : intersectRanges(known, within));
  }
  if ([...found.values()].some(({ length }) => length === 0)) return [];
  return [[...found].map(([field, within]) => ({ kind: "number", field, within }))];
}

/** The only one on its field so far, of numbers, and some pass. */
function isAlone(test: Test, tests: readonly Test[], at: number): boolean {
  if (test.kind === "name" || test.within.length === 0) return false;
  for (let other = 0; other < at; other++) if (tests[other]?.field === test.field) return false;
  return true;
}

function placesOf(oneOf: readonly string[], names: readonly string[]): Ranges {
  const places = oneOf.map((name) => BigInt(names.indexOf(name)));
  return normalizeRanges(places.map((place) => [place, place]));
}

/** Whether a packet that fits one of the matches from a place on is left by those before it. */
function isDeciding(listed: Listed, first: number, length: number, meter: Meter): boolean {
  for (let at = first; at < first + length; at++) {
    const own = listed.matches[at] ?? [];
    const isLeft = listed.kinds.some((kind) => {
      const flow = fitting(kind, own);
      return flow !== undefined && survives(flow, listed, first, meter);
    });
    if (isLeft) return true;
    // All that it takes away is away without it.
    if (!meter.exceeded) forget(listed.hulls, at);
  }
  return false;
}

/** The packets of a flow that pass a match; undefined: none. */
function fitting(flow: Flow, match: readonly NumberTest[]): Flow | undefined {
  for (const { field, within } of match) if (!rangesOverlap(within, setOf(flow, field))) return undefined;
  const sets = [...flow.sets];
  for (const { field, within } of match) sets[field] = intersectRanges(setOf(flow, field), within);
  return { ...flow, sets };
}

/** Whether a packet of a flow is left by the first matches. */
function survives(flow: Flow, { matches, hulls }: Listed, first: number, meter: Meter): boolean {
  const met = meetingTests(hulls, flow, first);
  const open = met.map(({ tests }) => tests as readonly NumberTest[]); // the matches hold no others
  const left = isAnyLeft(flow.sets, open, { meter, pieces: SHATTERED });
  if (left !== undefined || meter.exceeded) return left ?? false;
  const list = met.map(({ at }) => ({ match: matches[at] ?? [] }));
  return new Diagram(flow, list, meter).anyLeft() !== undefined && !meter.exceeded;
}
