/**
 * The parts of a search that others may do: ladders climbed and trials weighed, told by numbers alone. Whoever holds the same
 * plan and assertions finds the same ladders, so that a task is plain data, and so is its answer.
 */
import type { Turned } from "../compare/index.ts";
import { EnginesDisagree } from "../evaluate/index.ts";
import type { Ladder } from "./candidate.ts";
import { weigh } from "./changes.ts";
import type { Plan } from "./plan.ts";
import { type Climbed, climb, keyOf, laddersFor, MOST_TRIED, newSearch, tryOnce } from "./search.ts";
import type { Demanded } from "./trial.ts";

/** One ladder of an assertion. */
export type Rung = {
  /** Id of the assertion. */
  readonly id: string;
  /** Number of the ladder. */
  readonly ladder: number;
  /** Place on it: how many edits may be tried, or which one mends. */
  readonly at: number;
};

/** What a helper answers: the engines may disagree there, too. */
export type Helped<Answer> =
  | {
      /** What was found. */
      readonly answer: Answer;
    }
  | {
      /** Why the engines disagree. */
      readonly fault: string;
    };

/** Several who hold the plan. */
export type Helpers = {
  /** Climbs ladders; those of one task share edits. */
  readonly climb: (tasks: readonly (readonly Rung[])[]) => Promise<readonly (readonly Helped<Climbed>[])[]>;
  /** Works out what edits turn. */
  readonly weigh: (tasks: readonly Rung[]) => Promise<readonly Helped<Turned>[]>;
};

/** One who helps. */
export type Helper = {
  /** Climbs the ladders of one task. */
  readonly climb: (task: readonly Rung[]) => readonly Helped<Climbed>[];
  /** Works out what one edit turns. */
  readonly weigh: (task: Rung) => Helped<Turned>;
};

/** One who holds this plan, and keeps what its tasks share. */
export function newHelper(plan: Plan, all: readonly Demanded[]): Helper {
  const search = newSearch(plan, all);
  const known = new Map<string, readonly Ladder[]>();
  const found = ({ id, ladder }: Rung): readonly [Demanded, Ladder] => {
    const wanted = all.find((each) => each.id === id);
    const ladders = wanted === undefined ? [] : (known.get(id) ?? laddersFor(wanted, search));
    known.set(id, ladders);
    const one = ladders[ladder];
    if (wanted === undefined || one === undefined) throw new Error(`no ladder ${ladder} for ${id}`);
    return [wanted, one];
  };
  return {
    climb: (task) =>
      task.map((rung) =>
        helped(() => {
          const [wanted, ladder] = found(rung);
          return climb(ladder, wanted, search, rung.at);
        }),
      ),
    weigh: (rung) =>
      helped(() => {
        const [, ladder] = found(rung);
        const candidate = ladder[rung.at];
        const trial = candidate === undefined ? "unsound" : tryOnce(candidate, search);
        if (trial === "unsound") throw new Error(`no edit ${rung.at} on ladder ${rung.ladder} for ${rung.id}`);
        return weigh(plan, trial).turned;
      }),
  };
}

function helped<Answer>(ask: () => Answer): Helped<Answer> {
  try {
    return { answer: ask() };
  } catch (error) {
    if (error instanceof EnginesDisagree) return { fault: error.message };
    throw error;
  }
}

/** The tasks of a search: ladders that begin with the same edit are one task, in the order of the first of them. */
export function climbsOf(wanted: readonly (readonly [Demanded, readonly Ladder[]])[]): readonly (readonly Rung[])[] {
  const tasks = new Map<string, Rung[]>();
  for (const [{ id }, ladders] of wanted) {
    for (const [ladder, [first]] of ladders.slice(0, MOST_TRIED).entries()) {
      if (first === undefined) continue;
      // Each ladder before it takes an edit at least.
      const rung: Rung = { id, ladder, at: MOST_TRIED - ladder };
      const beside = tasks.get(keyOf(first));
      if (beside === undefined) tasks.set(keyOf(first), [rung]);
      else beside.push(rung);
    }
  }
  return [...tasks.values()];
}
