/**
 * The order of witnesses, written down once: of all packets that do the same the smallest is shown, so that an answer never
 * depends on what was found first. Smaller is, in this order:
 *
 * 1. what needs no other packets before it;
 * 2. what is sent at the smaller place: where a station with an address is plugged in, the lowest address first, then
 *    places without one, by name;
 * 3. fewer tags on the frame, then lower ones; a bare frame before one in a session;
 * 4. field by field: IPv4 before IPv6; the source; the destination; TCP, UDP, ICMP, then protocol 253, then others by number; the
 *    destination port, or the type and code of a message; the source port; TCP flags; the hop limit;
 * 5. fewer options that have to be taken, then a shorter way, then its steps by name.
 *
 * A source is smaller that stands for the internet where an upstream is at that place; elsewhere one that belongs to a station
 * there, then to one on its link, then a free address of the networks there, then any station's (a forged one); a destination
 * that stands for the internet where that is meant, then one that a station among the target has, then another address of the
 * target, then any station's. Within each of these the lowest number goes first; an address that ends in 0 goes behind its
 * neighbours. Ports and types begin with those that everybody knows (`WELL_KNOWN`), then go by number.
 */
import {
  addressKey,
  EMPTY_RANGES,
  intersectRanges,
  type Ranges,
  ranges,
  rangesContain,
  rangesWithin,
  single,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import type { Notes, Route } from "../network/index.ts";
import type { Aim } from "./aim.ts";
import type { Atlas, Leg } from "./atlas.ts";
import {
  DESTINATION,
  DESTINATION_PORT,
  FAMILY,
  HOP_LIMIT,
  ICMP_CODE,
  ICMP_TYPE,
  PROTOCOL,
  SOURCE,
  SOURCE_HARDWARE,
  SOURCE_PORT,
  TCP_FLAGS,
  VLAN,
} from "./fields.ts";
import type { Ended } from "./findings.ts";
import { setOf, withSet } from "./flow.ts";
import type { Sent } from "./passage.ts";
import { byCodePoint, byPlace, least, legsBeyond } from "./places.ts";
import type { Reaches } from "./reaches.ts";
import { familyOf } from "./tracking.ts";
import { stepsOf, type Trail } from "./trail.ts";

/** What is needed to choose. */
export type Choosing = {
  /** The network at rest. */
  readonly atlas: Atlas;
  /** Its links. */
  readonly reaches: Reaches;
  /** The target. */
  readonly aim: Aim;
  /** Is told what is looked at. */
  readonly notes: Notes;
};

// -- among sets ----------------------------------------------------------------------------------------------------

/** Fields as they are compared; those of the frame follow from how it is sent. */
const FIELDS = [
  FAMILY,
  SOURCE,
  DESTINATION,
  PROTOCOL,
  DESTINATION_PORT,
  ICMP_TYPE,
  ICMP_CODE,
  SOURCE_PORT,
  TCP_FLAGS,
  HOP_LIMIT,
] as const;

/**
 * Of sets of packets that need no others before them the one with the smallest packet, narrowed to it in every field of the
 * order: exact over all of them, since each is a product.
 */
export function smallestOf<Piece extends Ended>(pieces: readonly [Piece, ...Piece[]], choosing: Choosing): Piece {
  const [first] = pieces;
  if (pieces.length === 1) return first;
  const byAt = byPlace(choosing.atlas);
  let left: readonly Piece[] = leastBy(pieces, (a, b) => byAt(a.sent.at, b.sent.at) || bySending(a, b));
  const values: bigint[] = [];
  for (const field of FIELDS) {
    const [one = first] = left;
    if (left.length === 1) return narrowedTo(one, values);
    const all = unionOf(new Set(left.map(({ flow }) => setOf(flow, field))));
    const place = { field, family: familyOf(one.flow), isAnswer: false, isEarlier: false, sent: one.sent };
    const value = chosen(all, place, choosing);
    values.push(value);
    left = left.filter(({ flow }) => rangesContain(setOf(flow, field), value));
  }
  return narrowedTo(leastBy(left, byWay)[0] ?? first, values);
}

/** Sets that are put together one by one: most of a few lie within the others, and of many all are sorted at once. */
const FEW = 64;

function unionOf(sets: ReadonlySet<Ranges>): Ranges {
  if (sets.size > FEW) return ranges(...[...sets].flat());
  let all = EMPTY_RANGES;
  for (const set of sets) if (!rangesWithin(all, set)) all = unionRanges(all, set);
  return all;
}

/** A set with one value in each of the first fields of the order. */
function narrowedTo<Piece extends Ended>(piece: Piece, values: readonly bigint[]): Piece {
  const flow = FIELDS.reduce((all, field, at) => {
    const value = values[at];
    return value === undefined ? all : withSet(all, field, single(value));
  }, piece.flow);
  return { ...piece, flow };
}

/** Those that no other one is less than, in their order. */
function leastBy<Piece>(pieces: readonly Piece[], compare: (a: Piece, b: Piece) => number): readonly Piece[] {
  let least: Piece[] = [];
  for (const piece of pieces) {
    const [known] = least;
    const order = known === undefined ? -1 : compare(piece, known);
    if (order < 0) least = [piece];
    else if (order === 0) least.push(piece);
  }
  return least;
}

function bySending({ sent: a }: Ended, { sent: b }: Ended): number {
  return byTags(a.tags, b.tags) || Number(a.session === true) - Number(b.session === true);
}

/** Fewer tags first, then lower ones, the outermost first. */
export function byTags(a: readonly number[], b: readonly number[]): number {
  const differs = a.findIndex((tag, index) => tag !== b[index]);
  return a.length - b.length || (a[differs] ?? 0) - (b[differs] ?? 0);
}

/** By what is told of the way: options, length, words. */
export function byWay({ trail: a }: Pick<Ended, "trail">, { trail: b }: Pick<Ended, "trail">): number {
  return a.picks.length - b.picks.length || a.length - b.length || byCodePoint(wordsOf(a), wordsOf(b));
}

function wordsOf(trail: Trail): string {
  return stepsOf(trail)
    .map(({ at, did, detail }) => `${at} ${did} ${detail}`)
    .join("\n");
}

// -- among values of a field ---------------------------------------------------------------------------------------

const SYN = 0x02n;
const SYN_ACK = 0x12n;
const ACK = 0x10n;

/** Values that a person tries first. */
const WELL_KNOWN: ReadonlyMap<number, readonly bigint[]> = new Map([
  [SOURCE_PORT, [40_000n]],
  // The web, a shell, names, shares, leases, the time (IANA's registry of service names, from memory).
  [DESTINATION_PORT, [443n, 22n, 80n, 53n, 445n, 67n, 123n, 161n, 40_000n]],
  [ICMP_CODE, [0n]],
  [TCP_FLAGS, [SYN, SYN_ACK, ACK]],
  [HOP_LIMIT, [64n, 255n]],
  [VLAN, [0n]],
  // Of no maker and no group: none sends from address 0, and bridges drop it (seen on Linux 6.18).
  [SOURCE_HARDWARE, [0x02_00_00_00_00_fen, 0x02_00_00_00_00_fdn, 0x02_00_00_00_00_fcn]],
]);

const ICMP = { 4: 1n, 6: 58n } as const;
/** A protocol of which no tracker knows more than its number (RFC 3692 section 2.1). */
const EXPERIMENT = 253n;

/** Echo requests first, then the errors that say that a destination cannot be reached. */
const WELL_KNOWN_MESSAGES = { 4: [8n, 3n, 0n], 6: [128n, 1n, 129n] } as const;

/** Where a value stands. */
export type Place = {
  /** Place of its field. */
  readonly field: number;
  /** Of the packet. */
  readonly family: 4 | 6;
  /** The packet belongs to a connection begun before. */
  readonly isAnswer: boolean;
  /** The packet only begins a connection for another one. */
  readonly isEarlier: boolean;
  /** How the packet is sent. */
  readonly sent: Sent;
};

function wellKnownOf({ field, family, isAnswer, isEarlier }: Place): readonly bigint[] {
  if (field === ICMP_TYPE) return WELL_KNOWN_MESSAGES[family];
  // Whatever became of the connection meanwhile, an answer to its first packet still belongs to it.
  if (field === TCP_FLAGS && isAnswer) return [SYN_ACK, ACK, SYN];
  // A reset ends a connection that has seen nothing else; no answer to a datagram does.
  if (field === PROTOCOL) return [...(isAnswer || isEarlier ? [17n, 6n] : [6n, 17n]), ICMP[family], EXPERIMENT];
  return WELL_KNOWN.get(field) ?? [];
}

/** The smallest of the values of a field. @throws where there is none */
export function chosen(set: Ranges, place: Place, choosing: Choosing): bigint {
  const { field, sent } = place;
  if (field === SOURCE) return chosenSource(place.isAnswer ? silentIn(set, choosing) : set, sent, choosing);
  if (field === DESTINATION) return chosenDestination(place.isEarlier ? silentIn(set, choosing) : set, choosing);
  const known = wellKnownOf(place);
  return firstIn(set, known) ?? lowest(set);
}

function firstIn(set: Ranges, keys: Iterable<bigint>): bigint | undefined {
  for (const key of keys) if (rangesContain(set, key)) return key;
  return undefined;
}

function lowest(set: Ranges): bigint {
  const [pair] = set;
  if (pair === undefined) throw new Error("an empty set of packets has no witness");
  return pair[0];
}

/** The lowest that is not the first address of a network, where there is a choice. */
function lowestHost(set: Ranges): bigint {
  const low = lowest(set);
  const [next] = (low & 0xffn) === 0n ? subtractRanges(set, single(low)) : set;
  return next === undefined || next[0] >> 8n !== low >> 8n ? low : next[0];
}

// -- sources -------------------------------------------------------------------------------------------------------

/** Interfaces around a place. */
type Around = {
  /** Of the station there. */
  readonly there: readonly Leg[];
  /** Others that its frames get to. */
  readonly onLink: readonly Leg[];
};

function around({ at }: Sent, { atlas, reaches }: Choosing): Around {
  const node = atlas.nodes.get(at);
  if (node !== undefined) return { there: node.legs, onLink: [] };
  return { there: legsBeyond(atlas, at), onLink: reaches.legsFrom(at) };
}

function chosenSource(set: Ranges, sent: Sent, choosing: Choosing): bigint {
  const { there, onLink } = around(sent, choosing);
  if (!choosing.atlas.nodes.has(sent.at)) choosing.notes.link([sent.at]);
  for (const { node } of [...there, ...onLink]) choosing.notes.stack(node.stack.id);
  const ofHosts = (legs: readonly Leg[]): bigint | undefined =>
    lowestOwn(
      set,
      legs.filter(({ node }) => !node.forwards || node.stack.id === sent.at),
    );
  const isProvider = there.some(({ node }) => node.stack.answersFor === "everywhere");
  return (
    (isProvider ? firstIn(set, choosing.atlas.internet) : undefined) ??
    ofHosts(there) ??
    ofHosts(onLink) ??
    beside(set, [...there, ...onLink], choosing) ??
    ownedIn(set, choosing) ??
    lowestHost(set)
  );
}

function lowestOwn(set: Ranges, legs: readonly Leg[]): bigint | undefined {
  const keys = legs.flatMap((leg) => leg.settled.addresses.map(addressKey));
  return least(keys.filter((key) => rangesContain(set, key)));
}

/** The lowest of some addresses that nobody has, in the networks that these interfaces are in. */
function beside(set: Ranges, legs: readonly Leg[], { atlas, notes }: Choosing): bigint | undefined {
  const free = legs.flatMap((leg) =>
    leg.node.ways.flatMap(({ value: route, low, high }) => {
      if (route === undefined || !isOnLink(route, leg)) return [];
      const near = intersectRanges(set, [[low, high]]);
      notes.owners(near);
      const numbers = subtractRanges(near, atlas.owned);
      return numbers.length === 0 ? [] : [lowestHost(numbers)];
    }),
  );
  return least(free);
}

function isOnLink({ action }: Route, { interface: { id } }: Leg): boolean {
  return action.do === "forward" && action.hops.some((hop) => hop.egress === id && hop.via === undefined);
}

/** Addresses that no station has, where there are any: nobody answers the packet that went there first. */
function silentIn(set: Ranges, { atlas, notes }: Choosing): Ranges {
  notes.owners(set);
  const silent = subtractRanges(set, atlas.owned);
  return silent.length === 0 ? set : silent;
}

/** The lowest address of a set that a station has. */
function ownedIn(set: Ranges, { atlas, notes }: Choosing): bigint | undefined {
  notes.owners(set);
  for (const [low, high] of set) {
    const first = firstAtOrAbove(atlas.owned, low);
    if (first !== undefined && first <= high) return first;
  }
  return undefined;
}

/** The lowest number of a set that is not below another one, found by halving. */
function firstAtOrAbove(set: Ranges, number: bigint): bigint | undefined {
  let low = 0;
  let high = set.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((set[middle]?.[1] ?? number) < number) low = middle + 1;
    else high = middle;
  }
  const pair = set[low];
  if (pair === undefined) return undefined;
  return pair[0] < number ? number : pair[0];
}

// -- destinations --------------------------------------------------------------------------------------------------

function chosenDestination(set: Ranges, choosing: Choosing): bigint {
  const aimed = intersectRanges(set, choosing.aim.addresses);
  const { internet } = choosing.atlas;
  const somewhere = (within: Ranges): bigint => firstIn(within, internet) ?? lowestHost(within);
  const beyond = choosing.aim.upstreams.size === 0 ? undefined : firstIn(set, internet);
  return (
    beyond ??
    ownedIn(aimed, choosing) ??
    (aimed.length > 0 ? somewhere(aimed) : undefined) ??
    ownedIn(set, choosing) ??
    somewhere(set)
  );
}
