/**
 * What the link layer around each interface is like, worked out when it is first asked for: where its frames get to,
 * and who answers there for which address. A neighbour counts only when its answer finds the way back.
 */
import { FAMILY_KEYS, intersectRanges, type Ranges, ranges, subtractRanges, unionRanges } from "../address/index.ts";
import type { Id, Pick, SegmentPoint, Session } from "../network/index.ts";
import type { Atlas, Leg, Node } from "./atlas.ts";
import { listOf } from "./by-key.ts";
import { isKept, takenInAt } from "./kept.ts";
import type { LinkReach, Point, Touch } from "./link.ts";
import { reachFromEntrances, reachFromLeg } from "./reach-from.ts";
import { overlaid, type Stretch } from "./stretches.ts";
import { areOne, wordOf } from "./trail.ts";

/** IPv4 keys, for what ARP and neighbour discovery do differently. */
const IPV4: Ranges = [[0n, 0xffffffffn]];
/** fe80::/10 as keys. */
export const LINK_LOCAL: Ranges = [[(1n << 128n) | (0xfe80n << 112n), (1n << 128n) | ((0xfec0n << 112n) - 1n)]];

/** Answers about entrances that are kept: questions about the same ones come one after the other. */
const ENTRANCES_KEPT = 16;
/** Places of which it is kept who is around: witnesses of most answers are sent at the same few. */
const PLACES_KEPT = 256;

/** Reach of one interface, with its touches at hand. */
export type LegReach = LinkReach & {
  /** Touches by interface. */
  readonly touchOf: ReadonlyMap<Id, Touch>;
};

/** Everything known of links. */
export class Reaches {
  readonly #atlas: Atlas;
  readonly #ofLegs = new Map<string, LegReach>();
  readonly #ofEntrances = new Map<string, LinkReach>();
  readonly #legsFrom = new Map<Id, readonly Leg[]>();
  readonly #owners = new Map<Id, readonly Stretch<readonly Leg[]>[]>();
  readonly #answers = new Map<Leg, Ranges>();

  constructor(atlas: Atlas) {
    this.#atlas = atlas;
  }

  /** Where frames of an interface get to. */
  of(leg: Leg): LegReach {
    return this.#under(leg, []);
  }

  #under(leg: Leg, taken: readonly Pick[]): LegReach {
    const key = [leg.interface.id, ...taken.map(wordOf)].join(" ");
    const known = this.#ofLegs.get(key);
    if (known !== undefined) return known;
    const reach = reachFromLeg(this.#atlas, leg, taken);
    const withTouches = { ...reach, touchOf: new Map(reach.touches.map((touch) => [touch.leg.interface.id, touch])) };
    this.#ofLegs.set(key, withTouches);
    return withTouches;
  }

  /** Where frames get to that enter at some attachments. */
  ofEntrances(entrances: readonly Id[]): LinkReach {
    const make = (): LinkReach => reachFromEntrances(this.#atlas, entrances);
    return latest(this.#ofEntrances, entrances.join(" "), ENTRANCES_KEPT, make);
  }

  /** Interfaces that frames get to which enter at an attachment, in the order of its reach. */
  legsFrom(at: Id): readonly Leg[] {
    const make = (): readonly Leg[] => this.ofEntrances([at]).touches.map(({ leg }) => leg);
    return latest(this.#legsFrom, at, PLACES_KEPT, make);
  }

  /** Addresses that an interface answers for when a neighbour asks: ARP on any leg (kernel fact 4), discovery on its own. */
  answersOf(leg: Leg): Ranges {
    const known = this.#answers.get(leg) ?? answers(leg);
    this.#answers.set(leg, known);
    return known;
  }

  /** Who answers on the link of an interface, by address key. */
  ownersOf(leg: Leg): readonly Stretch<readonly Leg[]>[] {
    const { id } = leg.interface;
    const known = this.#owners.get(id);
    if (known !== undefined) return known;
    const { session } = leg.interface;
    const others = this.hearersOf(leg).filter((other) => other !== leg);
    const taken = (other: Leg): Ranges => {
      // What it has itself it asks nobody for, but for addresses of the link that it has on another interface there.
      if (other.node === leg.node) return intersectRanges(other.own, LINK_LOCAL);
      return session === undefined ? this.answersOf(other) : takenInSession(session, other);
    };
    const owners = overlaid(others.map((other) => [other, taken(other)]));
    this.#owners.set(id, owners);
    return owners;
  }

  /** Interfaces that take what an interface sends to all: on its link those that run no session, in a session its peers. */
  hearersOf(leg: Leg): readonly Leg[] {
    const { peers } = leg.settled;
    const touched = this.of(leg).touches.map((touch) => touch.leg);
    return leg.interface.session === undefined
      ? touched.filter((other) => other.interface.session === undefined)
      : touched.filter((other) => peers?.includes(other.interface.id) === true);
  }

  /** Whether frames of one interface to another get there. */
  leads(from: Leg, to: Leg): boolean {
    const touch = this.of(from).touchOf.get(to.interface.id);
    if (touch === undefined) return false;
    return from.interface.hardware !== to.interface.hardware || !isKept(this.#atlas, to, touch.trail);
  }

  /** Whether frames of one interface to another alone get there, as answers are sent: none does that the other's own bridge takes in elsewhere. */
  leadsAlone(from: Leg, to: Leg): boolean {
    const touch = this.of(from).touchOf.get(to.interface.id);
    return touch !== undefined && takenInAt(this.#atlas, to, touch.trail) === undefined;
  }

  /**
   * What has to be taken so that the question of one interface gets to another and the answer back, where these options are
   * taken already; undefined: one of both gets lost under them.
   */
  exchange(asker: Leg, owner: Leg, taken: readonly Pick[]): readonly Pick[] | undefined {
    const there = this.#way(asker, owner, taken);
    const back = there && this.#way(owner, asker, [...taken, ...there]);
    return back && [...there, ...back];
  }

  /** Options of the first way found, or of one that leaves bonds as is taken already. */
  #way(from: Leg, to: Leg, taken: readonly Pick[]): readonly Pick[] | undefined {
    const usual = this.of(from).touchOf.get(to.interface.id)?.trail.picks;
    if (usual === undefined || areOne(taken, usual)) return usual;
    return this.#under(from, taken).touchOf.get(to.interface.id)?.trail.picks;
  }
}

/** What is kept, or made now; of many the oldest is forgotten: a thousand seats are a thousand large answers. */
function latest<Value>(kept: Map<string, Value>, key: string, most: number, make: () => Value): Value {
  const known = kept.get(key) ?? make();
  // The latest comes last, so that the first one is the one to forget.
  kept.delete(key);
  kept.set(key, known);
  const [oldest] = kept.keys();
  if (oldest !== undefined && kept.size > most) kept.delete(oldest);
  return known;
}

/** What goes to a peer: all that a client sends, of a server's what has the peer's address. */
function takenInSession({ role }: Session, peer: Leg): Ranges {
  return role === "client" ? ranges(FAMILY_KEYS[4], FAMILY_KEYS[6]) : peer.own;
}

function answers(leg: Leg): Ranges {
  switch (leg.node.stack.answersFor) {
    case "any-own-address":
      return unionRanges(leg.own, intersectRanges(leg.node.own, IPV4));
    case "this-leg":
      return leg.own;
    case "everywhere":
      // Link-local addresses are of this link, not of what lies behind it.
      return unionRanges(leg.own, subtractRanges(subtractRanges(leg.node.beyond, leg.node.own), LINK_LOCAL));
  }
}

/** Segments by the bridge or attachment that they are at. */
export type Segments = ReadonlyMap<Id, readonly SegmentPoint[]>;

/** Segments by where they are, in their order. */
export function segmentsBy(list: readonly SegmentPoint[]): Segments {
  const segments = new Map<Id, SegmentPoint[]>();
  for (const segment of list) listOf(segments, segment.at).push(segment);
  return segments;
}

const NONE: readonly SegmentPoint[] = [];

/** Of these segments those that a point is a part of. */
export function segmentsOf(point: Point, segments: Segments): readonly SegmentPoint[] {
  const here = segments.get(point.at);
  return here === undefined ? NONE : here.filter((segment) => lies(point, segment));
}

/** The first of these points that lies in one of these segments. */
export function pointIn(points: readonly Point[], segments: Segments): Point | undefined {
  if (segments.size === 0) return undefined;
  return points.find((point) => isWithin(point, segments));
}

/** Those of these points that lie in one of these segments. */
export function pointsIn(points: readonly Point[], segments: Segments): readonly Point[] {
  return segments.size === 0 ? [] : points.filter((point) => isWithin(point, segments));
}

function isWithin(point: Point, segments: Segments): boolean {
  return segments.get(point.at)?.some((segment) => lies(point, segment)) === true;
}

/** Whether a point is a part of a segment. */
export function lies(point: Point, segment: SegmentPoint): boolean {
  if (point.at !== segment.at) return false;
  if (segment.vlan === undefined) return point.vlans.length === 0;
  const vlan = BigInt(segment.vlan);
  return point.vlans.some(([low, high]) => low <= vlan && vlan <= high);
}

/** All interfaces of a stack that are up. */
export function legsUp(node: Node): readonly Leg[] {
  return node.legs.filter((leg) => leg.settled.up);
}
