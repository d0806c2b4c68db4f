/**
 * Two states of a site, and what the change does to reach: for each pair of ends the packets that get through after it
 * and not before, and the other way round, over all outcomes of what is open. Packets that need none before them come
 * first; answers count where nothing else changes between the two ends, errors where nothing else changes at all.
 */
import { intersectRanges, type Ranges, rangeOf, ranges, subtractRanges } from "../address/index.ts";
import type { Alternatives } from "../network/index.ts";
import { type Box, boxesWithout, ICMP_TYPE, matchOf, PROTOCOL } from "../prove/index.ts";
import type { Change, Comparison, Difference } from "../result/index.ts";
import { renamedNetworks, tellAlongside } from "./alongside.ts";
import { replacementOf } from "./carried.ts";
import { tellDifferences } from "./differences.ts";
import { touchedLines } from "./lines.ts";
import { listenedSets } from "./listening.ts";
import { merged } from "./merged.ts";
import { movedSets } from "./moved.ts";
import { COMPARED } from "./origin.ts";
import { pairsOf } from "./pairs.ts";
import { type Reach, reachOn } from "./reach.ts";
import { type CompareRequest, type Pair, SIDES, type TurnedSet } from "./states.ts";
import { isUntouched, type Touched, touchedBetween } from "./untouched.ts";
import { withoutVacated } from "./vacated.ts";
import { addressNamesOf } from "./words.ts";

/** What a comparison finds. */
export type Compared = Pick<Comparison, "differences" | "replacements" | "alongside" | "undecided" | "pairs">;

/** More pieces of a difference than this are not worked out. */
const MOST_PIECES = 20_000;

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
  const busy = new Set(plain.flatMap(({ pair: { from, to } }) => [`${from.id} ${to.id}`, `${to.id} ${from.id}`]));
  const quiet = found.filter(({ pair: { from, to } }) => !busy.has(`${from.id} ${to.id}`));
  const answers = [...plain, ...quiet.flatMap((pair) => compared(pair, "answers"))];
  const turned = answers.length > 0 ? answers : found.flatMap((pair) => compared(pair, "errors"));
  // Only now: what follows from such packets, answers and errors, is no news either.
  const between = withoutAllVacated(turned, found, request);
  const sets = [...between, ...movedSets(request, between, MOST_PIECES), ...listenedSets(found, request, MOST_PIECES)];
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

/** Without packets that only tell whose an address was. */
function withoutAllVacated(
  sets: readonly TurnedSet[],
  found: readonly Found[],
  { base, head }: CompareRequest,
): readonly TurnedSet[] {
  if (sets.length === 0) return sets;
  const names = { base: addressNamesOf(base.evaluation), head: addressNamesOf(head.evaluation) };
  const reach = new Map(found.map((each) => [each.pair, each]));
  return sets.flatMap((set) => {
    const { plain = [], answers = [] } = reach.get(set.pair)?.[SIDES[set.change].here] ?? {};
    // What others get through as answers alone is another matter than what needs none before it.
    return withoutVacated(set, set.kind === "plain" ? plain : [...plain, ...answers], names) ?? [];
  });
}

/** The same in words, what is newly allowed first. @throws EnginesDisagree */
export function tellTurned(sets: readonly TurnedSet[], request: CompareRequest): readonly Difference[] {
  return sets.length === 0 ? [] : numbered(order(merged(toldOf(sets, request))));
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

function matchesOf(boxes: readonly Box[]): Alternatives {
  return boxes.map(({ numbers }) => matchOf(numbers, COMPARED));
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

// -- what gets through -----------------------------------------------------------------------------------------------

type Found = {
  readonly pair: Pair;
  readonly base: Reach;
  readonly head: Reach;
  readonly isSame: boolean;
  readonly undecided?: string;
};

function reachOf(pair: Pair, { base, head }: CompareRequest, touched: Touched): Found {
  const { from, to } = pair;
  const before = reachOn("base", pair, base);
  const evaluations = [base.evaluation, head.evaluation] as const;
  if (from.base && to.base && isUntouched(touched, before, from.base, evaluations))
    return { pair, base: before, head: before, isSame: true };
  const after = reachOn("head", pair, head);
  const undecided = after.undecided ?? before.undecided;
  return { pair, base: before, head: after, isSame: false, ...(undecided === undefined ? {} : { undecided }) };
}

function compared({ pair, base, head, isSame, undecided }: Found, kind: TurnedSet["kind"]): readonly TurnedSet[] {
  if (isSame || undecided !== undefined) return [];
  const between = (change: Change, after: Reach, before: Reach): readonly TurnedSet[] => {
    const boxes =
      kind === "plain"
        ? boxesWithout(after.plain, before.plain, MOST_PIECES)
        : boxesWithout(after.answers, [...before.answers, ...before.plain], MOST_PIECES);
    if (boxes === undefined)
      return [{ pair, change, kind, boxes: [], undecided: `more than ${MOST_PIECES} pieces of a difference` }];
    const wanted = kind === "plain" ? boxes : boxes.flatMap((box) => ofKind(box, kind));
    return wanted.length === 0 ? [] : [{ pair, change, kind, boxes: wanted }];
  };
  return [...between("newly-allowed", head, base), ...between("newly-forbidden", base, head)];
}

/** Messages that tell of an error: RFC 792 types 3 to 5, 11 and 12; RFC 4443 section 2.1: those below 128. */
const ERRORS: ReadonlyMap<bigint, Ranges> = new Map([
  [1n, ranges([3n, 5n], [11n, 12n])],
  [58n, rangeOf(0n, 127n)],
]);

/** The part of a box that is errors, or the part that is not. */
function ofKind(box: Box, kind: "answers" | "errors"): readonly Box[] {
  const [protocol] = box.numbers[PROTOCOL] ?? [];
  const errors = protocol === undefined ? undefined : ERRORS.get(protocol[0]);
  if (errors === undefined) return kind === "answers" ? [box] : [];
  const types = box.numbers[ICMP_TYPE] ?? [];
  const wanted = kind === "errors" ? intersectRanges(types, errors) : subtractRanges(types, errors);
  return wanted.length === 0 ? [] : [{ ...box, numbers: box.numbers.with(ICMP_TYPE, wanted) }];
}
