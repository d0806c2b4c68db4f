/**
 * What of one end's packets gets to another on one side of a change only. Packets that need none before them come first;
 * answers count where nothing else changes between the two ends, errors where nothing else changes at all.
 */
import { intersectRanges, type Ranges, rangeOf, ranges, subtractRanges } from "../address/index.ts";
import { type Box, boxesWithout, ICMP_TYPE, PROTOCOL } from "../prove/index.ts";
import type { Change } from "../result/index.ts";
import { type Reach, reachOn } from "./reach.ts";
import type { CompareRequest, Pair, TurnedSet } from "./states.ts";
import { isUntouched, type Touched } from "./untouched.ts";

/** More pieces of a difference than this are not worked out. */
export const MOST_PIECES = 20_000;

/** What gets from one end to another on both sides. */
export type Found = {
  /** The ends. */
  readonly pair: Pair;
  /** Before the change. */
  readonly base: Reach;
  /** After it; the same one where the change cannot matter. */
  readonly head: Reach;
  /** The change cannot matter. */
  readonly isSame: boolean;
  /** Why nobody can tell; absent: all is known. */
  readonly undecided?: string;
};

/** Asks about two ends on both sides, where the change can matter. @throws EnginesDisagree */
export function reachOf(pair: Pair, { base, head }: CompareRequest, touched: Touched): Found {
  const { from, to } = pair;
  const before = reachOn("base", pair, base);
  const evaluations = [base.evaluation, head.evaluation] as const;
  if (from.base && to.base && isUntouched(touched, before, from.base, evaluations))
    return { pair, base: before, head: before, isSame: true };
  const after = reachOn("head", pair, head);
  const undecided = after.undecided ?? before.undecided;
  return { pair, base: before, head: after, isSame: false, ...(undecided === undefined ? {} : { undecided }) };
}

/** Packets of one kind that get through on one side only. */
export function compared(
  { pair, base, head, isSame, undecided }: Found,
  kind: TurnedSet["kind"],
): readonly TurnedSet[] {
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

/** Pairs of ends, both ways round, between which some packets are turned. */
export function busyPairs(sets: readonly Pick<TurnedSet, "pair">[]): (pair: Pair) => boolean {
  const busy = new Set(sets.flatMap(({ pair: { from, to } }) => [`${from.id} ${to.id}`, `${to.id} ${from.id}`]));
  return ({ from, to }) => busy.has(`${from.id} ${to.id}`);
}
