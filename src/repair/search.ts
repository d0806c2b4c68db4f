/**
 * The search: candidates of each failure in their order, each tried on the whole plan, until all are or the limit is
 * reached.
 */
import { failuresOf, workingOf } from "../check/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import { acceptLadders } from "./accept.ts";
import { type Candidate, firstOfEach, type Ladder } from "./candidate.ts";
import { forwardLadders } from "./forwards.ts";
import type { Ground } from "./ground.ts";
import type { Plan } from "./plan.ts";
import { relayLadders } from "./relays.ts";
import { settingLadders } from "./settings.ts";
import { stopLadders } from "./stop.ts";
import { tagLadders } from "./tags.ts";
import { type Demanded, type Judge, type Knowing, mends, type Trial, tryOut } from "./trial.ts";
import { wayLadders } from "./ways.ts";

/** At most so many edits are tried for one assertion. */
export const MOST_TRIED = 80;
/** Of an assertion that fails in many ways so many are looked at: one edit has to mend them all. */
const MOST_FAILURES = 3;

/** A search on one plan. */
export type Search = {
  /** The plan. */
  readonly plan: Plan;
  /** Every assertion. */
  readonly all: readonly Demanded[];
  /** How they end on the plan as it is. */
  readonly before: Judge;
  /** The same with what that rests on. */
  readonly knowing: Knowing;
  /** Edits tried so far, by what they make of which file: one edit may mend several. */
  readonly tried: Map<string, Trial | "unsound">;
};

/** What was found for one assertion. */
export type Found = {
  /** Trials that mend it, in the order of their ladders. */
  readonly trials: readonly Trial[];
  /** Edits that were tried. */
  readonly tried: number;
  /** Some were not. */
  readonly isCut: boolean;
};

/** Looks for edits that mend one assertion. @throws EnginesDisagree */
export function searchFor(wanted: Demanded, search: Search): Found {
  const trials: Trial[] = [];
  let tried = 0;
  for (const ladder of laddersFor(wanted, search)) {
    for (const candidate of ladder) {
      if (tried >= MOST_TRIED) return { trials, tried, isCut: true };
      tried++;
      const trial = tryOnce(candidate, search);
      if (trial === "unsound") continue;
      if (!mends(trial, wanted, search.all, search.before)) {
        // Few edits are asked about again, and what is kept of all of them fills the memory.
        trial.plan.evaluation.forget();
        continue;
      }
      trials.push(trial);
      break;
    }
  }
  return { trials, tried, isCut: false };
}

function tryOnce(candidate: Candidate, { plan, tried, knowing }: Search): Trial | "unsound" {
  const key = keyOf(candidate);
  const known = tried.get(key) ?? tryOut(plan, candidate, knowing) ?? "unsound";
  tried.set(key, known);
  return known;
}

function keyOf({ file, edits }: Candidate): string {
  return JSON.stringify([file, edits.map(({ span, text }) => [span.start, span.end, text])]);
}

/** Every ladder of an assertion's failures; a candidate stands on one of them only. */
function laddersFor({ assertion }: Demanded, { plan, all, before }: Search): readonly Ladder[] {
  const { evaluation } = plan;
  const failures = failuresOf(assertion, evaluation);
  let known: readonly ProbeResult[] | undefined;
  const working = (): readonly ProbeResult[] => {
    known ??= all.flatMap((each) => (before(each) === "passed" ? workingOf(each.assertion, evaluation) : []));
    return known;
  };
  const grounds = distinct(failures).map(
    (failure): Ground => ({ plan, network: evaluation.network, assertion, failure, working }),
  );
  const seen = new Set<string>();
  return grounds.flatMap((ground) => laddersOn(ground)).map((ladder) => firstOfEach(ladder, keyOf, seen));
}

function laddersOn(ground: Ground): readonly Ladder[] {
  const rules = ground.failure.reached === undefined ? acceptLadders(ground) : stopLadders(ground);
  return [
    ...rules,
    ...forwardLadders(ground),
    ...tagLadders(ground),
    ...wayLadders(ground),
    ...relayLadders(ground),
    ...settingLadders(ground),
  ];
}

/** The first failures that rest on other lines than those before them. */
function distinct<Failed extends { readonly evidence: readonly { readonly origin: { readonly span: object } }[] }>(
  failures: readonly Failed[],
): readonly Failed[] {
  const keyOfLine = ({ evidence: [first] }: Failed): string => JSON.stringify(first?.origin.span ?? {});
  return firstOfEach(failures, keyOfLine).slice(0, MOST_FAILURES);
}
