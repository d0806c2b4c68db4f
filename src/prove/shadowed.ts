/**
 * Rules that never decide anything: whatever fits them fits one before them. What is left of a rule is followed one piece at
 * a time, to the first piece that nothing takes; a rule that shatters on the way is asked of a diagram.
 */
import type { Alternatives } from "../network/index.ts";
import { flowsOf } from "./box.ts";
import { Diagram } from "./diagram.ts";
import { NAME_FIELDS, NO_NAME } from "./fields.ts";
import { cut, type Flow, type Test, testsOf } from "./flow.ts";
import { type Hulls, hullsOf, meeting } from "./hulls.ts";
import { Meter } from "./meter.ts";
import { type Conditional, singlyNamed, surelyPasses } from "./rules.ts";

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

/** Lines of all rules before one. */
type Before = {
  readonly matches: readonly (readonly Test[])[];
  readonly hulls: Hulls;
  readonly names: Flow["names"];
};

/** Asks every rule of a list whether it decides any packet. `limitSteps`: for each rule. */
export function shadowedIn(rules: readonly Conditional[], limitSteps: number): Shadowed {
  const matches = rules.flatMap(({ when }) => when.map(testsOf));
  const before: Before = { matches, hulls: hullsOf(matches), names: namesIn(matches) };
  const places: number[] = [];
  const undecided: number[] = [];
  let [first, steps] = [0, 0];
  for (const [place, { when }] of rules.entries()) {
    const meter = new Meter(limitSteps);
    const isLeft = isAnyLeft(when, before, first, meter);
    if (!isLeft) (meter.exceeded ? undecided : places).push(place);
    steps += meter.spent;
    first += when.length;
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

/** Whether a packet that fits is left by the first matches of a list. */
function isAnyLeft(when: Alternatives, { matches, hulls, names }: Before, first: number, meter: Meter): boolean {
  return flowsOf(when, names).some((flow) => {
    // Places are those of the matches.
    const met = meeting(hulls, flow, first).map((at) => matches[at] as readonly Test[]);
    return survives(flow, met, 0, { meter, left: SHATTERED }) ?? survivesDiagram(flow, met, meter);
  });
}

type Followed = { readonly meter: Meter; left: number };

/** Whether any packet of a flow passes all matches from a place on; undefined: it is in too many pieces. */
function survives(
  flow: Flow,
  matches: readonly (readonly Test[])[],
  from: number,
  within: Followed,
): boolean | undefined {
  for (let at = from; at < matches.length; at++) {
    if (!within.meter.take()) return false;
    const { hit, rest } = cut(flow, matches[at] ?? []);
    if (hit === undefined) continue;
    for (const piece of rest) {
      if (--within.left < 0) return undefined;
      const isLeft = survives(piece, matches, at + 1, within);
      if (isLeft !== false) return isLeft;
    }
    return false;
  }
  return true;
}

function survivesDiagram(flow: Flow, matches: readonly (readonly Test[])[], meter: Meter): boolean {
  const every = NAME_FIELDS.map((_, field) => field);
  return singlyNamed(flow, every).some((named) => {
    const passing = matches.filter((tests) =>
      tests.every((test) => test.kind === "number" || surelyPasses(named, test)),
    );
    const left = new Diagram(
      named,
      passing.map((match) => ({ match })),
      meter,
    ).anyLeft();
    return !meter.exceeded && left !== undefined;
  });
}
