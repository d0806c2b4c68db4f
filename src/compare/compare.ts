/**
 * Two states of a site, and what the change does to reach: for each pair of ends the packets that get through after it
 * and not before, and the other way round, over all outcomes of what is open. Packets that need none before them come
 * first; answers count where nothing else changes between the two ends, errors where nothing else changes at all.
 */
import { boxesWithout } from "../prove/index.ts";
import type { Change, Comparison, Difference } from "../result/index.ts";
import { renamedNetworks, tellAlongside } from "./alongside.ts";
import { busyPairs, compared, MOST_PIECES, reachOf } from "./between.ts";
import { replacementOf } from "./carried.ts";
import { tellDifferences } from "./differences.ts";
import { touchedLines } from "./lines.ts";
import { listenedSets } from "./listening.ts";
import { isOfMember, memberSets } from "./members.ts";
import { merged } from "./merged.ts";
import { matchesOf } from "./origin.ts";
import { pairsOf } from "./pairs.ts";
import type { CompareRequest, Pair, TurnedSet } from "./states.ts";
import { touchedBetween } from "./untouched.ts";
import { withoutVacated } from "./vacated.ts";
import { addressNamesOf } from "./words.ts";

/** What a comparison finds. */
export type Compared = Pick<Comparison, "differences" | "replacements" | "alongside" | "undecided" | "pairs">;

/** What a change turns, before it is told. */
export type Turned = {
  /** Sets of packets that get through on one side only. */
  readonly sets: readonly TurnedSet[];
  /** Pairs of ends of which nobody can tell, with why. */
  readonly undecided: Comparison["undecided"];
  /** How many pairs there are, and how many the change cannot matter to. */
  readonly pairs: Comparison["pairs"];
};

/** Compares two states. @throws EnginesDisagree */
export function compareStates(request: CompareRequest): Compared {
  const { base, head, replaced } = request;
  const { sets, undecided, pairs } = turnedBetween(request);
  return {
    differences: tellTurned(sets, request),
    replacements: [...replaced].map(([old, successor]) => replacementOf(old, successor, base.site, head.site)),
    alongside: pairs.untouched === pairs.all ? [] : tellAlongside(request, renamedNetworks(base.site, head.site)),
    undecided,
    pairs,
  };
}

/** What a change turns. @throws EnginesDisagree */
export function turnedBetween(request: CompareRequest): Turned {
  const { base, head } = request;
  const pairs = pairsOf(request);
  const touched = touchedBetween(base.evaluation, head.evaluation);
  const found = touched.none ? [] : pairs.map((pair) => reachOf(pair, request, touched));
  const plain = found.flatMap((pair) => compared(pair, "plain"));
  const isBusy = busyPairs(plain);
  const quiet = found.filter(({ pair }) => !isBusy(pair));
  const answers = [...plain, ...quiet.flatMap((pair) => compared(pair, "answers"))];
  const turned = answers.length > 0 ? answers : found.flatMap((pair) => compared(pair, "errors"));
  // Only now: what follows from such packets, answers and errors, is no news either.
  const between = withoutVacated(turned, found, request);
  const sets = [
    ...between,
    ...memberSets(request, { between: found, told: between, touched }),
    ...listenedSets(found, request),
  ];
  return {
    sets,
    undecided: [...found, ...sets].flatMap(({ pair: { from, to }, undecided }) =>
      undecided === undefined ? [] : [`${from.id} to ${to.id}: ${undecided}`],
    ),
    pairs: {
      all: pairs.length,
      untouched: touched.none ? pairs.length : found.filter(({ isSame }) => isSame).length,
    },
  };
}

/** The same in words, what is newly allowed first. @throws EnginesDisagree */
export function tellTurned(sets: readonly TurnedSet[], request: CompareRequest): readonly Difference[] {
  if (sets.length === 0) return [];
  const members = sets.filter(isOfMember);
  const others = sets.filter((set) => !members.includes(set));
  const told = [...merged(toldOf(others, request), "all-lines"), ...merged(toldOf(members, request), "changed-lines")];
  return numbered(order(told));
}

/** Whether every packet that one change turns is turned by another one, too; undefined: nobody can tell. */
export function isWithin(one: Turned, other: Turned): boolean | undefined {
  if (one.undecided.length > 0 || other.undecided.length > 0) return undefined;
  return one.sets.every((set) => {
    const same = other.sets.filter(({ pair, change }) => isSamePair(pair, set.pair) && change === set.change);
    const left = boxesWithout(matchesOf(set.boxes), matchesOf(same.flatMap(({ boxes }) => boxes)), MOST_PIECES);
    return left?.length === 0;
  });
}

function isSamePair(a: Pair, b: Pair): boolean {
  return a.from.id === b.from.id && a.to.id === b.to.id;
}

function toldOf(sets: readonly TurnedSet[], request: CompareRequest): readonly Difference[] {
  const { base, head, sources } = request;
  const touched = touchedLines(base.files, head.files, sources);
  const addresses = { base: addressNamesOf(base.evaluation), head: addressNamesOf(head.evaluation) };
  return sets.flatMap((each) => tellDifferences(each, { ...request, touched, addresses }));
}

function order(differences: readonly Difference[]): readonly Difference[] {
  const of = (wanted: Change) => differences.filter(({ change }) => change === wanted);
  return [...of("newly-allowed"), ...of("newly-forbidden")];
}

/** Ids that stand alone: a number is added from the second on. */
function numbered(differences: readonly Difference[]): readonly Difference[] {
  const seen = new Map<string, number>();
  return differences.map((difference) => {
    const count = (seen.get(difference.id) ?? 0) + 1;
    seen.set(difference.id, count);
    return count === 1 ? difference : { ...difference, id: `${difference.id}#${count}` };
  });
}
