/**
 * The order of places where packets are sent (`order.ts`): where a station with an address is plugged in, or that begins
 * them itself, by its lowest address; then all others, by name.
 */
import { addressKey } from "../address/index.ts";
import type { Id } from "../network/index.ts";
import type { Atlas, Leg } from "./atlas.ts";
import type { Question } from "./question.ts";
import { peersOf } from "./wiring.ts";

type Known = { readonly at: Id; readonly key: bigint };

const known = new WeakMap<Atlas, Map<Id, Known>>();

/** Above the keys of all addresses. */
const NONE = 1n << 130n;

function placeOf(atlas: Atlas, at: Id): Known {
  const places = known.get(atlas) ?? new Map<Id, Known>();
  known.set(atlas, places);
  const found = places.get(at) ?? { at, key: keyOf(atlas, at) };
  places.set(at, found);
  return found;
}

/** The lowest address there; `NONE`: nobody is there. */
function keyOf(atlas: Atlas, at: Id): bigint {
  const legs = atlas.nodes.get(at)?.legs ?? legsBeyond(atlas, at);
  return least(legs.flatMap((leg) => leg.settled.addresses.map(addressKey))) ?? NONE;
}

/** Interfaces that are plugged in at an attachment. */
export function legsBeyond(atlas: Atlas, at: Id): readonly Leg[] {
  return peersOf(atlas, at).flatMap((peer) => atlas.legsOn.get(atlas.bondOf.get(peer) ?? peer) ?? []);
}

/** The least of some numbers; undefined: there are none. */
export function least(numbers: readonly bigint[]): bigint | undefined {
  const [first, ...others] = numbers;
  if (first === undefined) return undefined;
  let found = first;
  for (const number of others) if (number < found) found = number;
  return found;
}

/** By code points. */
export function byCodePoint(a: string, b: string): number {
  if (a === b) return 0;
  return a < b ? -1 : 1;
}

/** Which of two places goes first: negative where the first one does. */
export function byPlace(atlas: Atlas): (a: Id, b: Id) => number {
  return (a, b) => {
    const [one, other] = [placeOf(atlas, a), placeOf(atlas, b)];
    if (one.key !== other.key) return one.key < other.key ? -1 : 1;
    return byCodePoint(a, b);
  };
}

/** A question with the places in their order. */
export function inOrder(question: Question, atlas: Atlas): Question {
  const compare = byPlace(atlas);
  return {
    ...question,
    entrances: [...question.entrances].sort(compare),
    senders: [...question.senders].sort((a, b) => compare(a.stack, b.stack)),
  };
}

/** The same question about the first places only, of entrances and stacks together; the order is that of `inOrder`. */
export function firstPlaces(question: Question, atlas: Atlas, from: number, to: number): Question {
  const places = placesOf(question, atlas).slice(from, to);
  return {
    ...question,
    entrances: question.entrances.filter((at) => places.includes(at)),
    senders: question.senders.filter(({ stack }) => places.includes(stack)),
  };
}

/** All places of a question, in their order. */
export function placesOf({ entrances, senders }: Question, atlas: Atlas): readonly Id[] {
  return [...entrances, ...senders.map(({ stack }) => stack)].sort(byPlace(atlas));
}
