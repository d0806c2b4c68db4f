/**
 * From what a walk gathered to an answer: classes as they were sent, each with its path and a witness, and of the
 * stopped ones the one that got furthest.
 */
import { rangesContain } from "../address/index.ts";
import type { FateClass, FateExample, Match } from "../network/index.ts";
import { matchOf } from "./box.ts";
import { type Class, countOf, type Ended, plainTwin, restsOnTcp } from "./findings.ts";
import { byWay, type Choosing, smallestOf } from "./order.ts";
import { byCodePoint, byPlace } from "./places.ts";
import type { Proof, Question } from "./question.ts";
import type { Walk } from "./walk.ts";
import { anyExampleOf, examplesOf } from "./witness.ts";

/** The answer to a question. */
export function answerOf(walk: Walk, question: Question, choosing: Choosing): Proof {
  const { meter } = walk.ground;
  const reached = tellAllReached(walk.reached.all(), walk, choosing);
  const permitted = tellAllReached(walk.permitted.all(), walk, choosing);
  const stopped = walk.stopped.all().flatMap((found) => tellStopped(found, walk, choosing) ?? []);
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
  const tell = (found: Class): readonly FateClass[] => tellOneReached(found, classes, walk, choosing);
  // The others first: some of them are told with those that need none.
  const others = classes.filter((found) => !found.isPlain).flatMap(tell);
  return [...classes.filter((found) => found.isPlain).flatMap(tell), ...others];
}

/** The smallest of all packets that reach; undefined: none does. */
export function smallestReached(walk: Walk, choosing: Choosing): FateClass | undefined {
  const classes = walk.reached.all();
  const pieces = classes.flatMap((of) => (of.isPlain ? of.pieces.map((piece) => ({ ...piece, of })) : []));
  const [first, ...others] = pieces;
  if (first === undefined) return leastForged(classes, walk, choosing);
  const { of, ...shown } = smallestOf([first, ...others], choosing);
  const example = anyExampleOf(shown, choosing);
  return example && { ...tellPackets(of), ...example };
}

/** Of what needs others before it: fewest of them, then by where it is sent, then by the way. */
function leastForged(classes: readonly Class[], walk: Walk, choosing: Choosing): FateClass | undefined {
  const byAt = byPlace(choosing.atlas);
  const told = classes.flatMap((found) => tellReached(found, walk, choosing) ?? []);
  const [least] = told.sort(
    ({ told: one, shown: a }, { told: other, shown: b }) =>
      one.before.length - other.before.length || byAt(one.sentAt, other.sentAt) || byWay(a, b),
  );
  return least?.told;
}

type Told = { readonly told: FateClass; readonly shown: Ended };

/** An example with the piece that it is of. */
type Example = { readonly told: FateExample; readonly shown: Ended };

/** Examples to take instead that are told with a class which needs earlier packets. */
const MOST_SPARE = 6;

/** A class by its first example; undefined: there is none. */
function toldBy(found: Class, [first, ...others]: readonly Example[]): Told | undefined {
  if (first === undefined) return undefined;
  const { shown, told } = first;
  const spare = others.length === 0 ? {} : { spare: others.map((each) => each.told) };
  return { told: { ...tellPackets(found), ...told, ...spare }, shown };
}

/** Examples of a class: its smallest packet, or those of the first of its pieces that have one. */
function examplesIn(found: Class, walk: Walk, choosing: Choosing): readonly Example[] {
  const known: Example[] = [];
  for (const shown of shownFirst(found, choosing)) {
    const examples = examplesOf(shown, choosing, (node) => walk.entriesAt(node));
    known.push(...examples.map((told) => ({ shown, told })));
    if (known.length > (found.isPlain ? 0 : MOST_SPARE)) break;
  }
  return known;
}

function shownFirst({ pieces, isPlain }: Class, choosing: Choosing): readonly Ended[] {
  const [first, ...others] = pieces;
  return isPlain && first !== undefined ? [smallestOf([first, ...others], choosing)] : pieces;
}

/** What is stopped by an example of it. */
function tellStopped(found: Class, walk: Walk, choosing: Choosing): Told | undefined {
  return toldBy(found, examplesIn(found, walk, choosing));
}

/** What reaches by an example of it: where a stack is to know nothing of a connection, and each example tells it, by those that a reset may make it forget. */
function tellReached(found: Class, walk: Walk, choosing: Choosing): Told | undefined {
  const clear = examplesIn(found, walk, choosing);
  const [any] = found.pieces;
  const first = clear.length > 0 || any === undefined ? [] : [any];
  const resettable = found.isPlain ? [] : found.pieces.filter(restsOnTcp);
  const others = [...new Set([...first, ...resettable])].flatMap((shown): readonly Example[] => {
    const told = anyExampleOf(shown, choosing);
    return told === undefined ? [] : [{ shown, told }];
  });
  return toldBy(found, [...clear, ...others]);
}

/** Whatever reaches is told: what has no example of its own with those that need no earlier packets, if they end alike. */
function tellOneReached(found: Class, all: readonly Class[], walk: Walk, choosing: Choosing): readonly FateClass[] {
  const twin = examplesIn(found, walk, choosing).length > 0 ? undefined : plainTwin(all, found);
  if (twin !== undefined) {
    twin.others.push(...found.packets);
    return [];
  }
  const some = tellReached(found, walk, choosing);
  if (some !== undefined) return [some.told];
  walk.doubt ??= {
    note: "packets that get there rest on others of which no example could be put together",
    origin: found.fate.origin,
  };
  return [];
}

function tellPackets({ fate, packets, others }: Class): Pick<FateClass, "packets" | "fate" | "others"> {
  const tell = (numbers: Class["packets"][number]): Match => matchOf(numbers, fate.origin);
  return { packets: packets.map(tell), fate, ...(others.length === 0 ? {} : { others: others.map(tell) }) };
}

/** Needing fewest earlier packets, then sent to an address of the target, then past most stacks, most steps, then by the way. */
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
  if (a.depth !== b.depth) return a.depth > b.depth;
  if (a.trail.length !== b.trail.length) return a.trail.length > b.trail.length;
  return byWay(a, b) < 0;
}

/** Whether a packet is sent to the target itself, not to an address that a translation may yet turn into one of it. */
function isMeant({ witness }: FateClass, { target }: Question): boolean {
  const destination = new Map(witness.numbers).get("destination");
  return destination !== undefined && rangesContain(target.addresses, destination);
}
