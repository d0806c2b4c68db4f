/**
 * From what a walk gathered to an answer: classes as they were sent, each with its path and a witness, and of the
 * stopped ones the one that got furthest.
 */
import type { FateClass } from "../network/index.ts";
import { matchOf } from "./box.ts";
import { type Class, countOf } from "./findings.ts";
import type { Proof, Question } from "./question.ts";
import { pathOf } from "./trail.ts";
import type { Walk } from "./walk.ts";
import { type Choosing, exampleOf } from "./witness.ts";

/** The answer to a question. */
export function answerOf(walk: Walk, question: Question, choosing: Choosing): Proof {
  const { meter } = walk.ground;
  const told = (found: Class): FateClass => tellClass(found, choosing);
  const stopped = walk.stopped.all();
  const nearest = nearestOf(stopped);
  const classes = new Map(stopped.map((found) => [found, told(found)]));
  const near = nearest && classes.get(nearest);
  const undecided = meter.exceeded ? { limit: meter.limit } : walk.doubt;
  return {
    reached: plainFirst(walk.reached.all()).map(told),
    stopped: [...classes.values()],
    ...(near === undefined ? {} : { nearest: near }),
    ...(undecided === undefined ? {} : { undecided }),
    looked: [...walk.looked, ...question.entrances].sort(byCodePoint),
    steps: meter.spent,
  };
}

/** What needs no earlier packets, then the rest. */
function plainFirst(classes: readonly Class[]): readonly Class[] {
  return [...classes].sort((a, b) => Number(a.shown.uses !== undefined) - Number(b.shown.uses !== undefined));
}

function byCodePoint(a: string, b: string): number {
  if (a === b) return 0;
  return a < b ? -1 : 1;
}

function tellClass({ fate, picks, shown, packets }: Class, choosing: Choosing): FateClass {
  return {
    packets: packets.map((numbers) => matchOf(numbers, fate.origin)),
    fate,
    picks,
    path: pathOf(shown.trail),
    ...exampleOf(shown, choosing),
  };
}

/** Needing fewest earlier packets, then past most stacks, then most steps, then first found. */
function nearestOf(classes: readonly Class[]): Class | undefined {
  let best: Class | undefined;
  for (const each of classes) if (best === undefined || isNearer(each, best)) best = each;
  return best;
}

function isNearer({ shown: a }: Class, { shown: b }: Class): boolean {
  const [usesA, usesB] = [countOf(a.uses), countOf(b.uses)];
  if (usesA !== usesB) return usesA < usesB;
  return a.depth === b.depth ? a.trail.length > b.trail.length : a.depth > b.depth;
}
