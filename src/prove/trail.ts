/**
 * The way that packets took, as a list that shares its beginnings: thousands of pieces come the same way.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Id, PathStep, Pick, Route } from "../network/index.ts";
import type { Sight } from "./flow.ts";
import { type Stretch, valueAt } from "./stretches.ts";

/** Routes of a stack that led packets to one next hop: which of them it was follows from the packet. */
export type Led = {
  /** All routes of the stack. */
  readonly stretches: readonly Stretch<Route>[];
  /** What the destination was there. */
  readonly destination: Sight;
};

/** One step and what came before it. */
export type Trail = {
  /** The last step; the origin of one that was led is that of any route to the same hop. */
  readonly step: PathStep;
  /** Absent: the same line decided for all packets. */
  readonly led?: Led;
  /** Absent: it began here. */
  readonly before?: Trail;
  /** Steps so far. */
  readonly length: number;
  /** Options that had to be taken so far. */
  readonly picks: readonly Pick[];
};

/** One more step. */
export function stepped(
  before: Trail | undefined,
  at: Id,
  did: string,
  origin: Origin,
  detail = "",
  pick?: Pick,
): Trail {
  const earlier = before?.picks ?? [];
  return {
    step: { at, did, origin, detail },
    length: (before?.length ?? 0) + 1,
    picks: pick === undefined || isTaken(earlier, pick) ? earlier : [...earlier, pick],
    ...(before === undefined ? {} : { before }),
  };
}

const VARIABLE = "variable ";

/** A pick whose option is the value of a variable, which is known once an example is chosen. */
export function drawnBy(choice: Id, variable: number): Pick {
  return { choice, option: `${VARIABLE}${variable}` };
}

/** Picks with the values of an example. */
export function withValues(picks: readonly Pick[], values: readonly bigint[]): readonly Pick[] {
  return picks.map(({ choice, option }) => {
    if (!option.startsWith(VARIABLE)) return { choice, option };
    const value = values[Number(option.slice(VARIABLE.length))];
    if (value === undefined) throw new Error(`an example without a value for ${option}`);
    return { choice, option: `${value}` };
  });
}

/** A pick in a word, the same for whatever value is drawn. */
export function wordOf({ choice, option }: Pick): string {
  return `${choice}=${option.startsWith(VARIABLE) ? VARIABLE : option}`;
}

function isTaken(picks: readonly Pick[], pick: Pick): boolean {
  return picks.some((taken) => taken.choice === pick.choice && taken.option === pick.option);
}

/** A step by the routes of a stack. */
export function ledBy(trail: Trail, led: Led): Trail {
  return { ...trail, led };
}

/** The steps in order. */
export function stepsOf(trail: Trail): readonly PathStep[] {
  return inOrder(trail).map(({ step }) => step);
}

/** The steps of an example, by its values of all variables: each names the very line that decided. */
export function pathOf(trail: Trail, values: readonly bigint[]): readonly PathStep[] {
  return inOrder(trail).map(({ step, led }) => {
    if (led === undefined) return step;
    const { variable, plus } = led.destination;
    const value = values[variable];
    if (value === undefined) throw new Error(`an example without a value for variable ${variable}`);
    return { ...step, origin: valueAt(led.stretches, value + plus)?.origin ?? step.origin };
  });
}

function inOrder(trail: Trail): readonly Trail[] {
  const all: Trail[] = [];
  for (let at: Trail | undefined = trail; at !== undefined; at = at.before) all.push(at);
  return all.reverse();
}

/** A trail followed by another one that began elsewhere, with the options that either needed. */
export function joined(first: Trail | undefined, second: Trail): Trail {
  return continued(first, inOrder(second), second.picks) ?? second;
}

/** Where a trail begins that is to be put behind another one with `follow`. */
export const BEGINNING: Trail = {
  step: {
    at: "",
    did: "begin",
    origin: { by: "default", rule: "", source: "", span: { file: 0, start: 0, end: 0 } },
    detail: "",
  },
  length: 0,
  picks: [],
};

/** A trail followed by one that begins with `BEGINNING`. */
export function follow(first: Trail, second: Trail): Trail {
  return continued(first, inOrder(second).slice(1), second.picks) ?? first;
}

function continued(first: Trail | undefined, steps: readonly Trail[], picks: readonly Pick[]): Trail | undefined {
  const whole = steps.reduce<Trail | undefined>((trail, { step: { at, did, origin, detail }, led }) => {
    const longer = stepped(trail, at, did, origin, detail);
    return led === undefined ? longer : ledBy(longer, led);
  }, first);
  const more = whole === undefined ? [] : picks.filter((pick) => !isTaken(whole.picks, pick));
  return whole === undefined || more.length === 0 ? whole : { ...whole, picks: [...whole.picks, ...more] };
}
