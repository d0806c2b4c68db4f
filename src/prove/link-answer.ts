/**
 * What the link layer says of some places, as plain values: what frames meet that begin there, who is plugged in, who gets there.
 * That is all that a proof ever reads of the wiring around them (`reaches.ts`, `relevant.ts`, `places.ts`); so where it says the same
 * before and after an edit, and the interfaces that it names are what they were, the edit lies in another VLAN, or behind a port
 * that concerns nobody here.
 */
import type { Id } from "../network/index.ts";
import type { Atlas, Leg } from "./atlas.ts";
import type { LinkReach, LinkStop, Point } from "./link.ts";
import { legsBeyond } from "./places.ts";
import type { Reaches } from "./reaches.ts";
import { landedAt } from "./relevant.ts";
import { stepsOf, type Trail } from "./trail.ts";

/** What is said. */
export type LinkAnswer = {
  /** Plain values, spans among them. */
  readonly words: unknown;
  /** Ids of the interfaces that it is about: what these are is no part of it. */
  readonly legs: readonly Id[];
  /** Ways depend on options: more is asked under them than this tells. */
  readonly isOpen: boolean;
};

const NOTHING: LinkAnswer = { words: "no such place", legs: [], isOpen: false };

/** What the link layer says of attachments, of one interface, or of a bridge. */
export function linkAnswerOf(ids: readonly Id[], atlas: Atlas, reaches: Reaches): LinkAnswer {
  const landed = ids.flatMap((id) => landedAt(id, atlas, reaches));
  const found = landed.map(({ leg, point }) => [leg.interface.id, point && pointWords(point)]);
  const arriving: LinkAnswer = { words: found, legs: [], isOpen: landed.some(({ point }) => hasPicks(point?.trail)) };
  const [first = ""] = ids;
  const leg = atlas.legs.get(first);
  if (leg !== undefined) return both(arriving, fromLeg(leg, reaches));
  if (ids.some((id) => !isAttachment(id, atlas))) return both(arriving, NOTHING);
  const beyond = ids.flatMap((id) => legsBeyond(atlas, id).map(({ interface: { id: at } }) => at));
  const plugged: LinkAnswer = { words: beyond, legs: beyond, isOpen: false };
  const reach = reaches.ofEntrances(ids);
  return both(arriving, both(plugged, reachWords(reach, toldOf(reach, ids))));
}

function isAttachment(id: Id, atlas: Atlas): boolean {
  return atlas.ports.has(id) || atlas.bonds.has(id);
}

function both(one: LinkAnswer, other: LinkAnswer): LinkAnswer {
  const legs = [...one.legs, ...other.legs];
  return { words: [one.words, other.words], legs, isOpen: one.isOpen || other.isOpen };
}

/** Where its frames get to, and whether those of the interfaces there get back. */
function fromLeg(leg: Leg, reaches: Reaches): LinkAnswer {
  const reach = reaches.of(leg);
  const { id } = leg.interface;
  const back = reach.touches.map((touch) => reaches.of(touch.leg).touchOf.get(id)?.trail);
  const words = back.map((trail) => trail !== undefined);
  // What a stack sends ends where nobody takes it, however far its frames get.
  return both({ words, legs: [id], isOpen: back.some(hasPicks) }, reachWords(reach, []));
}

/** Copies of a flood that find nobody are told where nobody takes frames at all; and where frames begin they tell why. */
function toldOf({ touches, stops }: LinkReach, entrances: readonly Id[]): readonly LinkStop[] {
  return touches.length === 0 ? stops : stops.filter(({ idle, at }) => !idle || entrances.includes(at));
}

/** `told`: of the stops those that anything is made of. */
function reachWords({ touches, points, stops }: LinkReach, told: readonly LinkStop[]): LinkAnswer {
  const words = [
    touches.map(({ leg, trail, sentAt, tags }) => [leg.interface.id, sentAt, tags, wayWords(trail)]),
    points.map(pointWords),
    told.map(({ at, reason, origin, trail, sentAt, tags, idle }) => {
      return [at, reason, origin, sentAt, tags, idle, wayWords(trail)];
    }),
  ];
  const trails = [...touches, ...points, ...stops].map(({ trail }) => trail);
  return { words, legs: touches.map(({ leg }) => leg.interface.id), isOpen: trails.some(hasPicks) };
}

function pointWords({ at, vlans, sentAt, taken, chosen, inner, trail }: Point): unknown {
  return [at, vlans, sentAt, taken, chosen, inner, wayWords(trail)];
}

function wayWords(trail: Trail | undefined): unknown {
  return trail === undefined ? [] : stepsOf(trail);
}

function hasPicks(trail: Trail | undefined): boolean {
  return trail !== undefined && trail.picks.length > 0;
}
