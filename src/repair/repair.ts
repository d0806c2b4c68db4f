/**
 * Repairs of a plan: for each assertion that does not hold, the edits that make it hold without making another one fail.
 *
 * Their order: those that mend most assertions first; of these the smallest change, counted in characters; then as they
 * were found. What turns more packets than another one that mends as much is left out, whether it opens or closes them.
 */
import type { Ending } from "../check/index.ts";
import type { Mending, Repair } from "../result/index.ts";
import { beginOf } from "./candidate.ts";
import { changedLines, isNarrower, sizeOf, tellReach, type Weighed, weigh } from "./changes.ts";
import type { Plan } from "./plan.ts";
import { MOST_TRIED, type Search, searchFor } from "./search.ts";
import { type Demanded, judgeOn, type Trial } from "./trial.ts";

/** At most so many repairs of one assertion are told. */
const MOST_TOLD = 3;
/** At most so many edits that mend are weighed against one another: the smallest of them. */
const MOST_WEIGHED = 6;

/** What is to be repaired. */
export type RepairRequest = {
  /** The plan. */
  readonly plan: Plan;
  /** Every assertion of the site. */
  readonly all: readonly Demanded[];
  /** Ids of those that do not hold, for which repairs are sought. */
  readonly broken: ReadonlySet<string>;
  /** How some of them end on the plan, by their ids, where they were judged with its evaluation. Default: none was. */
  readonly known?: ReadonlyMap<string, Ending>;
};

/** Repairs for each broken assertion, in their order. @throws EnginesDisagree */
export function repairsOf({ plan, all, broken, known }: RepairRequest): readonly Mending[] {
  const knowing = judgeOn(plan, known);
  const search: Search = { plan, all, before: (each) => knowing(each).status, knowing, tried: new Map() };
  const weighed = new Map<Trial, Weighed>();
  return all.filter(({ id }) => broken.has(id)).map((wanted) => mendingOf(wanted, search, weighed));
}

function mendingOf(wanted: Demanded, search: Search, weighed: Map<Trial, Weighed>): Mending {
  const { trials, tried, isCut } = searchFor(wanted, search);
  const ranked = inOrder(trials, search).slice(0, MOST_WEIGHED);
  const all = ranked.map((trial) => {
    const known = weighed.get(trial) ?? weigh(search.plan, trial);
    weighed.set(trial, known);
    return known;
  });
  const kept = all.filter((one) => !all.some((other) => isBetter(other, one, search)));
  return {
    id: wanted.id,
    repairs: kept.slice(0, MOST_TOLD).map((each) => repairOf(each, wanted, search)),
    tried,
    ...(isCut ? { limit: `more than ${MOST_TRIED} edits` } : {}),
  };
}

/** Assertions that did not hold and do after an edit. */
function mendedBy({ judge }: Trial, { all, before }: Search): readonly Demanded[] {
  return all.filter((each) => before(each) !== "passed" && judge(each) === "passed");
}

function inOrder(trials: readonly Trial[], search: Search): readonly Trial[] {
  const ranked = trials.map((trial) => {
    const { candidate } = trial;
    const size = sizeOf(search.plan.sources[candidate.file]?.text ?? "", candidate);
    return { trial, count: mendedBy(trial, search).length, size };
  });
  return ranked.toSorted((a, b) => b.count - a.count || a.size - b.size).map(({ trial }) => trial);
}

/** Turns less, and mends all that the other one does. */
function isBetter(one: Weighed, other: Weighed, search: Search): boolean {
  const mended = new Set(mendedBy(one.trial, search));
  return mendedBy(other.trial, search).every((each) => mended.has(each)) && isNarrower(one, other);
}

function repairOf(weighed: Weighed, wanted: Demanded, search: Search): Repair {
  const { candidate } = weighed.trial;
  const source = search.plan.sources[candidate.file];
  if (source === undefined) throw new Error(`no file ${candidate.file}`);
  const others = mendedBy(weighed.trial, search).filter(({ id }) => id !== wanted.id);
  return {
    kind: candidate.kind,
    text: candidate.text,
    file: source.path,
    at: beginOf(candidate),
    changes: changedLines(source.text, candidate),
    mends: others.map(({ assertion }) => assertion.name.value),
    ...tellReach(search.plan, weighed),
  };
}
