/**
 * The search: candidates of each failure in their order, each tried on the whole plan, until all are or the limit is
 * reached.
 */
import { failuresOf, workingOf } from "../check/index.ts";
import type { Refused } from "../result/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import { acceptLadders } from "./accept.ts";
import { cableLadders } from "./cables.ts";
import { type Candidate, firstOfEach, type Ladder } from "./candidate.ts";
import { forwardLadders } from "./forwards.ts";
import type { Ground } from "./ground.ts";
import type { Plan } from "./plan.ts";
import { relayLadders } from "./relays.ts";
import { serviceLadders } from "./services.ts";
import { settingLadders } from "./settings.ts";
import { stopLadders } from "./stop.ts";
import { tagLadders } from "./tags.ts";
import { type Demanded, harmedBy, type Judge, judgeOn, type Knowing, type Trial, tryOut } from "./trial.ts";
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

/** A search that has not begun; `known` holds how some assertions end on the plan. */
export function newSearch(plan: Plan, all: readonly Demanded[], known?: Parameters<typeof judgeOn>[1]): Search {
  const knowing = judgeOn(plan, known);
  return { plan, all, before: (each) => knowing(each).status, knowing, tried: new Map() };
}

/** What climbing a ladder came to. */
export type Climbed = {
  /** Edits that were tried. */
  readonly tried: number;
  /** Place of the one that mends; absent: none of them does. */
  readonly at?: number;
  /** Those that would, and make another assertion end worse; absent: none. */
  readonly refused?: Refused;
  /** More edits are there than were allowed. */
  readonly isCut: boolean;
};

/** What was found for one assertion. */
export type Found = {
  /** Trials that mend it, in the order of their ladders. */
  readonly trials: readonly { readonly trial: Trial; readonly ladder: number; readonly at: number }[];
  /** Edits that were tried. */
  readonly tried: number;
  /** Those that would mend it, and make another assertion end worse; absent: none. */
  readonly refused?: Refused;
  /** Some were not. */
  readonly isCut: boolean;
};

/**
 * Looks for edits that mend one assertion. `climbed` holds what came of the first ladders where that is known, each climbed
 * at least as far as it would be here. @throws EnginesDisagree
 */
export function searchFor(
  wanted: Demanded,
  ladders: readonly Ladder[],
  search: Search,
  climbed: (ladder: number) => Climbed | undefined,
): Found {
  const trials: { readonly trial: Trial; readonly ladder: number; readonly at: number }[] = [];
  let tried = 0;
  let refused: Refused | undefined;
  for (const [index, ladder] of ladders.entries()) {
    const left = MOST_TRIED - tried;
    const here = climbed(index) ?? climb(ladder, wanted, search, left);
    if (here.tried > left || here.isCut) return { trials, tried: MOST_TRIED, ...optionally(refused), isCut: true };
    tried += here.tried;
    refused = both(refused, here.refused);
    const candidate = here.at === undefined ? undefined : ladder[here.at];
    if (candidate === undefined || here.at === undefined) continue;
    const trial = tryOnce(candidate, search);
    if (trial === "unsound") throw new Error(`an edit of ${candidate.text} mends, and is unsound`);
    trials.push({ trial, ladder: index, at: here.at });
  }
  return { trials, tried, ...optionally(refused), isCut: false };
}

/** The first one names what it costs. */
function both(one: Refused | undefined, other: Refused | undefined): Refused | undefined {
  if (one === undefined || other === undefined) return one ?? other;
  return { ...one, edits: one.edits + other.edits };
}

function optionally(refused: Refused | undefined): { readonly refused?: Refused } {
  return refused === undefined ? {} : { refused };
}

/** Tries the edits of a ladder until one mends, at most so many. @throws EnginesDisagree */
export function climb(ladder: Ladder, wanted: Demanded, search: Search, most: number): Climbed {
  let refused: Refused | undefined;
  for (const [at, candidate] of ladder.entries()) {
    if (at >= most) return { tried: at, ...optionally(refused), isCut: true };
    const trial = tryOnce(candidate, search);
    if (trial === "unsound") continue;
    if (trial.judge(wanted) === "passed") {
      const harmed = harmedBy(trial, search.all, search.before);
      if (harmed === undefined) return { tried: at + 1, at, ...optionally(refused), isCut: false };
      refused = both(refused, { edits: 1, costs: harmed.assertion.name.value });
    }
    // Few edits are asked about again, and what is kept of all of them fills the memory.
    trial.plan.evaluation.forget();
  }
  return { tried: ladder.length, ...optionally(refused), isCut: false };
}

/** An edit tried, once for all assertions. */
export function tryOnce(candidate: Candidate, { plan, tried, knowing }: Search): Trial | "unsound" {
  const key = keyOf(candidate);
  const known = tried.get(key) ?? tryOut(plan, candidate, knowing) ?? "unsound";
  tried.set(key, known);
  return known;
}

/** What an edit makes of which file. */
export function keyOf({ file, edits }: Candidate): string {
  return JSON.stringify([file, edits.map(({ span, text }) => [span.start, span.end, text])]);
}

/** Every ladder of an assertion's failures; a candidate stands on one of them only. */
export function laddersFor({ assertion }: Demanded, { plan, all, before }: Search): readonly Ladder[] {
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
  const ladders = grounds.flatMap((ground) => laddersOn(ground)).map((ladder) => firstOfEach(ladder, keyOf, seen));
  return ladders.filter((ladder) => ladder.length > 0);
}

function laddersOn(ground: Ground): readonly Ladder[] {
  const rules = ground.failure.reached === undefined ? acceptLadders(ground) : stopLadders(ground);
  return [
    ...rules,
    ...forwardLadders(ground),
    ...tagLadders(ground),
    ...wayLadders(ground),
    ...relayLadders(ground),
    ...serviceLadders(ground),
    ...settingLadders(ground),
    ...cableLadders(ground),
  ];
}

/** The first failures that rest on other lines than those before them. */
function distinct<Failed extends { readonly evidence: readonly { readonly origin: { readonly span: object } }[] }>(
  failures: readonly Failed[],
): readonly Failed[] {
  const keyOfLine = ({ evidence: [first] }: Failed): string => JSON.stringify(first?.origin.span ?? {});
  return firstOfEach(failures, keyOfLine).slice(0, MOST_FAILURES);
}
