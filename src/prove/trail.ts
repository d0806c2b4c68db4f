/**
 * The way that packets took, as a list that shares its beginnings: thousands of pieces come the same way.
 */
import { single } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { FilterAction, Id, PathStep, Pick, Route, Rule } from "../network/index.ts";
import { type Flow, isSameSight, type Sight } from "./flow.ts";
import type { RuleList } from "./rules.ts";
import { type Stretch, valueAt } from "./stretches.ts";

/** Lines of which several did the same to packets: which of them it was follows from the packet. */
export type Led =
  | LedByRoutes
  | {
      /** By rules that let pass. */
      readonly by: "rules";
      /** All rules of the list. */
      readonly rules: RuleList<Rule<FilterAction>>;
      /** The packets as they were there. */
      readonly flow: Flow;
    };

/** By routes to one next hop. */
export type LedByRoutes = {
  /** Tells what leads. */
  readonly by: "routes";
  /** All routes of the stack. */
  readonly stretches: readonly Stretch<Route>[];
  /** What the source was there. */
  readonly source: Sight;
  /** What the destination was there. */
  readonly destination: Sight;
};

/** One step and what came before it. */
export type Trail = {
  /** The last step; where several lines did the same, the line is that of any of them. */
  readonly step: PathStep;
  /** Absent: one line decided for all packets. */
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
  const step = { at, did, origin, detail };
  const picks = pick === undefined || isTaken(earlier, pick) ? earlier : [...earlier, pick];
  // Hot, as is what follows: records are written out, since a spread that adds a field costs ten times as much.
  return before === undefined ? { step, length: 1, picks } : { step, length: before.length + 1, picks, before };
}

const VARIABLE = "variable ";

/** A pick whose option is the value of a variable, which is known once an example is chosen. */
export function drawnBy(choice: Id, variable: number): Pick {
  return { choice, option: `${VARIABLE}${variable}` };
}

/** Whether the option of a pick is the value of a variable. */
export function isDrawn({ option }: Pick): boolean {
  return option.startsWith(VARIABLE);
}

/** Picks with the values of an example. */
export function withValues(picks: readonly Pick[], values: readonly bigint[]): readonly Pick[] {
  return picks.map(({ choice, option }) => {
    if (!isDrawn({ choice, option })) return { choice, option };
    const value = values[Number(option.slice(VARIABLE.length))];
    if (value === undefined) throw new Error(`an example without a value for ${option}`);
    return { choice, option: `${value}` };
  });
}

/** A pick in a word, the same for whatever value is drawn. */
export function wordOf({ choice, option }: Pick): string {
  return `${choice}=${isDrawn({ choice, option }) ? VARIABLE : option}`;
}

/** Whether options can all be taken: of each choice one. What a variable draws is told only once an example is chosen. */
export function areOne(picks: readonly Pick[], others: readonly Pick[]): boolean {
  const isOther = (a: Pick, b: Pick): boolean =>
    a.choice === b.choice && a.option !== b.option && !isDrawn(a) && !isDrawn(b);
  return others.every((other) => !picks.some((pick) => isOther(pick, other)));
}

/** Whether the last time that packets took these routes their addresses were these, so that they take the same hop again. */
export function isSameFlow(trail: Trail, { stretches, source, destination }: LedByRoutes): boolean {
  for (let at: Trail | undefined = trail; at !== undefined; at = at.before) {
    if (at.led?.by !== "routes" || at.led.stretches !== stretches) continue;
    return isSameSight(at.led.source, source) && isSameSight(at.led.destination, destination);
  }
  return true;
}

/** Whether all of some options are among others. */
export function areTaken(picks: readonly Pick[], among: readonly Pick[]): boolean {
  return picks.every((pick) => isTaken(among, pick));
}

function isTaken(picks: readonly Pick[], pick: Pick): boolean {
  return picks.some((taken) => taken.choice === pick.choice && taken.option === pick.option);
}

/** A step that one of several lines decided. */
export function ledBy(trail: Trail, led: Led): Trail {
  const { step, length, picks, before } = trail;
  return before === undefined ? { step, length, picks, led } : { step, length, picks, before, led };
}

/** The steps in order. */
export function stepsOf(trail: Trail): readonly PathStep[] {
  return inOrder(trail).map(({ step }) => step);
}

/** The steps of an example, by its values of all variables: each names the very line that decided. */
export function pathOf(trail: Trail, values: readonly bigint[]): readonly PathStep[] {
  return inOrder(trail).map(({ step, led }) => (led === undefined ? step : { ...step, ...lineOf(led, values) }));
}

function lineOf(led: Led, values: readonly bigint[]): Partial<PathStep> {
  if (led.by === "routes") {
    const { variable, plus } = led.destination;
    const route = valueAt(led.stretches, drawn(values, variable) + plus);
    return route === undefined ? {} : { origin: route.origin };
  }
  const { flow, rules } = led;
  const sets = flow.sets.map((_, variable) => single(drawn(values, variable)));
  const rule = rules.ruleOf({ ...flow, sets, parts: undefined });
  return rule === undefined ? {} : { origin: rule.origin, detail: rule.id };
}

function drawn(values: readonly bigint[], variable: number): bigint {
  const value = values[variable];
  if (value === undefined) throw new Error(`an example without a value for variable ${variable}`);
  return value;
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
  return whole && taking(whole, picks);
}

/** The same way, with options that had to be taken besides. */
export function taking(trail: Trail, picks: readonly Pick[]): Trail {
  const more = picks.filter((pick) => !isTaken(trail.picks, pick));
  return more.length === 0 ? trail : { ...trail, picks: [...trail.picks, ...more] };
}
