/**
 * Repairs of a plan: for each assertion that does not hold, the edits that make it hold without making another one fail.
 *
 * Their order: those that mend most assertions first; of these what turns packets between fewest ends; then the smallest change,
 * counted in characters; then as they were found. What turns more packets than another one that mends as much is left out, whether
 * it opens or closes them, but for a service that a rule lacks; and so is what lets the internet in whatever it asks for.
 */
import type { Ending } from "../check/index.ts";
import { ToldDisagreement } from "../evaluate/index.ts";
import type { Mending, Repair } from "../result/index.ts";
import { beginOf, type Ladder } from "./candidate.ts";
import { changedLines, isNarrower, sizeOf, tellReach, turnedPairs, type Weighed, weigh } from "./changes.ts";
import { climbsOf, type Helped, type Helpers } from "./helpers.ts";
import { opensToAll } from "./outside.ts";
import type { Plan } from "./plan.ts";
import { type Climbed, type Found, laddersFor, MOST_TRIED, newSearch, type Search, searchFor } from "./search.ts";
import type { Demanded, Trial } from "./trial.ts";

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
  /** Who helps where so many edits may have to be tried; undefined: nobody. Default: nobody. */
  readonly helpers?: (edits: number) => Promise<Helpers | undefined>;
};

type Wanted = readonly [Demanded, readonly Ladder[]];
type Climbs = (id: string, ladder: number) => Climbed | undefined;

/** Repairs for each broken assertion, in their order; the same, whoever helps. @throws EnginesDisagree */
export async function repairsOf({ plan, all, broken, known, helpers }: RepairRequest): Promise<readonly Mending[]> {
  const search = newSearch(plan, all, known);
  const wanted = all.filter(({ id }) => broken.has(id)).map((each): Wanted => [each, laddersFor(each, search)]);
  const edits = wanted.flatMap(([, ladders]) => ladders.flat().slice(0, MOST_TRIED)).length;
  const help = await helpers?.(edits);
  const climbs = help === undefined ? () => undefined : await climbedBy(help, wanted);
  const weighed = new Map<Trial, Weighed>();
  const mendings: MendingFound[] = [];
  for (const each of wanted) mendings.push(await mendingOf(each, { search, weighed, climbs, help }));
  return mendings.map(({ mending, kept }, index) => {
    const [each] = wanted[index] ?? [];
    if (kept.length > 0 || each === undefined) return mending;
    const others = mendings.flatMap((found) => found.kept.filter(({ trial }) => trial.judge(each) === "passed"));
    return { ...mending, repairs: [...new Set(others)].slice(0, MOST_TOLD).map((one) => repairOf(one, each, search)) };
  });
}

/** What was found for one assertion, and of which trials it is told. */
type MendingFound = { readonly mending: Mending; readonly kept: readonly Weighed[] };

async function climbedBy(help: Helpers, wanted: readonly Wanted[]): Promise<Climbs> {
  const tasks = climbsOf(wanted);
  const answers = await help.climb(tasks);
  const known = new Map<string, Helped<Climbed>>();
  for (const [index, task] of tasks.entries()) {
    for (const [at, { id, ladder }] of task.entries()) {
      const answer = answers[index]?.[at];
      if (answer !== undefined) known.set(`${ladder} ${id}`, answer);
    }
  }
  return (id, ladder) => {
    const answer = known.get(`${ladder} ${id}`);
    return answer && answerIn(answer);
  };
}

function answerIn<Answer>(helped: Helped<Answer>): Answer {
  if ("fault" in helped) throw new ToldDisagreement(helped.fault);
  return helped.answer;
}

type Mender = {
  readonly search: Search;
  readonly weighed: Map<Trial, Weighed>;
  readonly climbs: Climbs;
  readonly help: Helpers | undefined;
};

async function mendingOf([wanted, ladders]: Wanted, mender: Mender): Promise<MendingFound> {
  const { search } = mender;
  const found = searchFor(wanted, ladders, search, (ladder) => mender.climbs(wanted.id, ladder));
  const all = await bestWeighed(inOrder(found.trials, search), wanted, mender);
  const best = all.filter((one) => isCompleting(one) || !all.some((other) => isBetter(other, one, search)));
  const kept = byReach(best, search).slice(0, MOST_TOLD);
  const mending = {
    id: wanted.id,
    repairs: kept.map((each) => repairOf(each, wanted, search)),
    tried: found.tried,
    ...(found.refused === undefined ? {} : { refused: found.refused }),
    ...(found.isCut ? { limit: `more than ${MOST_TRIED} edits` } : {}),
  };
  return { mending, kept };
}

/** The first of those in order that do not open the site to the internet at large, weighed. */
async function bestWeighed(ranked: Found["trials"], wanted: Demanded, mender: Mender): Promise<readonly Weighed[]> {
  const best: Weighed[] = [];
  for (let at = 0; at < ranked.length && best.length < MOST_WEIGHED; ) {
    const next = ranked.slice(at, at + MOST_WEIGHED - best.length);
    at += next.length;
    const weighed = await allWeighed(next, wanted, mender);
    best.push(...weighed.filter((each) => !opensToAll(each, wanted.assertion)));
  }
  return best;
}

/** A list of services that lacks one is mended where the rule stands, though a rule of its own might open it to fewer. */
function isCompleting({ trial: { candidate } }: Weighed): boolean {
  return candidate.completes === true;
}

/** Those that mend as much: what turns packets between fewer ends first. */
function byReach(all: readonly Weighed[], search: Search): readonly Weighed[] {
  const counted = all.map((one) => ({
    one,
    mended: mendedBy(one.trial, search).length,
    pairs: turnedPairs(one),
  }));
  return counted.toSorted((a, b) => b.mended - a.mended || a.pairs - b.pairs).map(({ one }) => one);
}

async function allWeighed(
  ranked: Found["trials"],
  { id }: Demanded,
  { search, weighed, help }: Mender,
): Promise<readonly Weighed[]> {
  const open = ranked.filter(({ trial }) => !weighed.has(trial));
  const answers = await help?.weigh(open.map(({ ladder, at }) => ({ id, ladder, at })));
  for (const [index, { trial }] of open.entries()) {
    const answer = answers?.[index];
    weighed.set(trial, answer === undefined ? weigh(search.plan, trial) : { trial, turned: answerIn(answer) });
  }
  return ranked.flatMap(({ trial }) => weighed.get(trial) ?? []);
}

/** Assertions that did not hold and do after an edit. */
function mendedBy({ judge }: Trial, { all, before }: Search): readonly Demanded[] {
  return all.filter((each) => before(each) !== "passed" && judge(each) === "passed");
}

function inOrder(trials: Found["trials"], search: Search): Found["trials"] {
  const ranked = trials.map((found) => {
    const { candidate } = found.trial;
    const size = sizeOf(search.plan.sources[candidate.file]?.text ?? "", candidate);
    return { found, count: mendedBy(found.trial, search).length, size };
  });
  return ranked.toSorted((a, b) => b.count - a.count || a.size - b.size).map(({ found }) => found);
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
