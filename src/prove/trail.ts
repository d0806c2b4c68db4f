/**
 * The way that packets took, as a list that shares its beginnings: thousands of pieces come the same way.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Id, PathStep, Pick } from "../network/index.ts";

/** One step and what came before it. */
export type Trail = {
  /** The last step. */
  readonly step: PathStep;
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

function isTaken(picks: readonly Pick[], pick: Pick): boolean {
  return picks.some((taken) => taken.choice === pick.choice && taken.option === pick.option);
}

/** The steps in order. */
export function pathOf(trail: Trail): readonly PathStep[] {
  const steps: PathStep[] = [];
  for (let at: Trail | undefined = trail; at !== undefined; at = at.before) steps.push(at.step);
  return steps.reverse();
}

/** A trail followed by another one that began elsewhere, with the options that either needed. */
export function joined(first: Trail | undefined, second: Trail): Trail {
  return continued(first, pathOf(second), second.picks) ?? second;
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
  return continued(first, pathOf(second).slice(1), second.picks) ?? first;
}

function continued(first: Trail | undefined, steps: readonly PathStep[], picks: readonly Pick[]): Trail | undefined {
  const whole = steps.reduce<Trail | undefined>(
    (trail, { at, did, origin, detail }) => stepped(trail, at, did, origin, detail),
    first,
  );
  const more = whole === undefined ? [] : picks.filter((pick) => !isTaken(whole.picks, pick));
  return whole === undefined || more.length === 0 ? whole : { ...whole, picks: [...whole.picks, ...more] };
}
