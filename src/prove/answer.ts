/**
 * From what a walk gathered to an answer: classes as they were sent, each with its path and a witness, and of the
 * stopped ones the one that got furthest.
 */
import { rangesContain } from "../address/index.ts";
import type { FateClass } from "../network/index.ts";
import { matchOf } from "./box.ts";
import { type Class, countOf, type Ended, plainTwin } from "./findings.ts";
import type { Proof, Question } from "./question.ts";
import { pathOf } from "./trail.ts";
import type { Walk } from "./walk.ts";
import { anyExampleOf, type Choosing, type Example, exampleOf } from "./witness.ts";

/** The answer to a question. */
export function answerOf(walk: Walk, question: Question, choosing: Choosing): Proof {
  const { meter } = walk.ground;
  const reached = tellAllReached(walk.reached.all(), walk, choosing);
  const permitted = tellAllReached(walk.permitted.all(), walk, choosing);
  const stopped = walk.stopped.all().flatMap((found) => tellShown(found, walk, choosing) ?? []);
  const nearest = nearestOf(stopped, question);
  const undecided = meter.exceeded ? { limit: meter.limit } : walk.doubt;
  return {
    reached,
    permitted,
    stopped: stopped.map(({ told }) => told),
    ...(nearest === undefined ? {} : { nearest: nearest.told }),
    ...(undecided === undefined ? {} : { undecided }),
    looked: [...walk.looked, ...question.entrances].sort(byCodePoint),
    steps: meter.spent,
  };
}

/** What needs no earlier packets, then the rest. */
function tellAllReached(classes: readonly Class[], walk: Walk, choosing: Choosing): readonly FateClass[] {
  const tell = (found: Class): readonly FateClass[] => tellReached(found, classes, walk, choosing);
  // The others first: some of them are told with those that need none.
  const others = classes.filter((found) => !found.isPlain).flatMap(tell);
  return [...classes.filter((found) => found.isPlain).flatMap(tell), ...others];
}

function byCodePoint(a: string, b: string): number {
  if (a === b) return 0;
  return a < b ? -1 : 1;
}

type Told = { readonly told: FateClass; readonly shown: Ended };

/** A class by the first of its pieces that has an example; undefined: none has. */
function tellShown(found: Class, walk: Walk, choosing: Choosing): Told | undefined {
  for (const shown of found.pieces) {
    const example = exampleOf(shown, choosing, (node) => walk.entriesAt(node));
    if (example !== undefined) return { told: tellClass(found, shown, example), shown };
  }
  return undefined;
}

/** Whatever reaches is told: what has no example of its own with those that need no earlier packets, if they end alike. */
function tellReached(found: Class, all: readonly Class[], walk: Walk, choosing: Choosing): readonly FateClass[] {
  const clear = tellShown(found, walk, choosing);
  if (clear !== undefined) return [clear.told];
  const [shown] = found.pieces;
  const twin = plainTwin(all, found);
  if (shown === undefined) return [];
  if (twin === undefined) {
    const example = anyExampleOf(shown, choosing);
    if (example !== undefined) return [tellClass(found, shown, example)];
    walk.doubt ??= { note: "packets that get there rest on too many others to be shown", origin: found.fate.origin };
    return [];
  }
  twin.packets.push(...found.packets);
  return [];
}

function tellClass({ fate, picks, packets }: Class, shown: Ended, example: Example): FateClass {
  return {
    packets: packets.map((numbers) => matchOf(numbers, fate.origin)),
    fate,
    picks,
    path: pathOf(shown.trail),
    ...example,
  };
}

/** Needing fewest earlier packets, then sent to an address of the target, then past most stacks, most steps, first found. */
function nearestOf(classes: readonly Told[], question: Question): Told | undefined {
  let best: Told | undefined;
  for (const each of classes) if (best === undefined || isNearer(each, best, question)) best = each;
  return best;
}

function isNearer({ shown: a, told: one }: Told, { shown: b, told: other }: Told, question: Question): boolean {
  const [usesA, usesB] = [countOf(a.uses), countOf(b.uses)];
  if (usesA !== usesB) return usesA < usesB;
  const [meantA, meantB] = [isMeant(one, question), isMeant(other, question)];
  if (meantA !== meantB) return meantA;
  return a.depth === b.depth ? a.trail.length > b.trail.length : a.depth > b.depth;
}

/** Whether a packet is sent to the target itself, not to an address that a translation may yet turn into one of it. */
function isMeant({ witness }: FateClass, { target }: Question): boolean {
  const destination = new Map(witness.numbers).get("destination");
  return destination !== undefined && rangesContain(target.addresses, destination);
}
