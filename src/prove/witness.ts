/**
 * One packet of a set, the one that a person would try: addresses of stations that exist, a well-known port, source port
 * 40000, hop limit 64; where none of these is in the set, the lowest number. Where the packet rests on connections begun
 * before, the packets that begin them come with it, their fields bound to its own.
 *
 * The order, field by field: source, of a station that can be where the packet is sent, then of its networks, then of
 * any station; destination, of the target's stations, then of the target's addresses, then of any station.
 */
import {
  addressKey,
  intersectRanges,
  isLinkLocal,
  keyAddress,
  type Ranges,
  rangesContain,
  single,
  subtractRanges,
} from "../address/index.ts";
import type { FateClass, Route, Witness } from "../network/index.ts";
import type { Aim } from "./aim.ts";
import type { Atlas, Leg, Node } from "./atlas.ts";
import {
  DESTINATION,
  DESTINATION_HARDWARE,
  DESTINATION_PORT,
  HOP_LIMIT,
  ICMP_CODE,
  ICMP_TYPE,
  LENGTH,
  NUMBER_FIELDS,
  PROTOCOL,
  SOURCE,
  SOURCE_HARDWARE,
  SOURCE_PORT,
  TCP_FLAGS,
  universeOf,
  VLAN,
} from "./fields.ts";
import type { Ended } from "./findings.ts";
import type { Flow } from "./flow.ts";
import { meaningOf } from "./followers.ts";
import { sendsStraightTo } from "./neighbours.ts";
import type { Entry, Meeting, Sent, Use } from "./passage.ts";
import type { Reaches } from "./reaches.ts";
import { familyOf } from "./tracking.ts";
import { peersOf } from "./wiring.ts";

/** What is needed to choose well. */
export type Choosing = {
  /** The network at rest. */
  readonly atlas: Atlas;
  /** Its links. */
  readonly reaches: Reaches;
  /** The target. */
  readonly aim: Aim;
};

/** A packet with those that must be sent before it. */
export type Example = Pick<FateClass, "witness" | "sentAt" | "before">;

type Shown = Pick<Ended, "flow" | "sent" | "uses"> & {
  /** It only begins a connection for another packet. */
  readonly isEarlier?: boolean;
};

/** Packets that an example may rest on, each counted for every other one that rests on it. */
const MOST_RESTED_ON = 1000;

/**
 * Chooses a packet of a set; undefined where the earlier packets would tell a tracker of it that is to know nothing, or
 * where it rests on too many.
 */
export function exampleOf(
  ended: Ended,
  choosing: Choosing,
  entriesAt: (node: Node) => readonly Entry[],
): Example | undefined {
  const chosen = choose(ended, [], bounded(choosing));
  if (chosen === undefined) return undefined;
  for (let stranger = ended.strangers; stranger !== undefined; stranger = stranger.before) {
    const entries = entriesAt(stranger.node);
    if (chosen.earlier.some((packet) => entries.some((entry) => begins(entry, packet)))) return undefined;
  }
  return chosen.example;
}

/** A packet of a set, whoever it is told to; undefined where it rests on too many. */
export function anyExampleOf(ended: Ended, choosing: Choosing): Example | undefined {
  return choose(ended, [], bounded(choosing))?.example;
}

/** Whether a packet, as it is sent, begins a connection. */
function begins({ flow, sent }: Entry, packet: Sending): boolean {
  if (sent.at !== packet.sent.at) return false;
  return packet.values.every((value, variable) => rangesContain(flow.sets[variable] ?? [], value));
}

/** An earlier packet by its values as it is sent. */
type Sending = { readonly sent: Sent; readonly values: readonly bigint[] };

type Earlier = Example["before"][number];

/** A packet for which the owner asked: any one does. */
function greetingOf({ owner, asker, address }: Meeting): Earlier {
  const { family } = keyAddress(address);
  const own =
    family === 4 ? sendsStraightTo(owner, asker) : asker.settled.addresses.filter((each) => each.family === family);
  const to = own.find((each) => !isLinkLocal(each)) ?? own[0];
  const [protocol, icmpType] = family === 4 ? [1n, 8n] : [58n, 128n];
  const numbers: Witness["numbers"] = [
    ["family", BigInt(family)],
    ["source", address],
    ["destination", to === undefined ? address : addressKey(to)],
    ["protocol", protocol],
    ["icmpType", icmpType],
    ["icmpCode", 0n],
    ["hopLimit", 64n],
  ];
  return { sentAt: owner.node.stack.id, witness: { numbers, names: [["egress", owner.interface.id]] } };
}

type Chosen = {
  readonly example: Example;
  readonly values: readonly bigint[];
  readonly earlier: readonly Sending[];
};

/** Choosing that ends. */
type Bounded = Choosing & {
  /** How many more packets may be chosen. */
  readonly left: { packets: number };
};

function bounded(choosing: Choosing): Bounded {
  return { ...choosing, left: { packets: MOST_RESTED_ON } };
}

/** `like`: values to take where they may be taken, variable by variable. */
function choose(ended: Shown, like: readonly bigint[], choosing: Bounded): Chosen | undefined {
  if (choosing.left.packets-- === 0) return undefined;
  const { flow, sent } = ended;
  const values = valuesOfVariables(ended, like, choosing);
  const before: Earlier[] = (sent.met ?? []).map(greetingOf);
  const earlier: Sending[] = [];
  let last: readonly bigint[] = [];
  for (const use of usesOf(ended.uses)) {
    // Several stacks that know a connection mostly know it by the same packet.
    const begun = choose({ ...use.entry, flow: bound(use, values), isEarlier: true }, last, choosing);
    if (begun === undefined) return undefined;
    const { sentAt, witness } = begun.example;
    for (const each of [...begun.example.before, { sentAt, witness }])
      if (!before.some((known) => isSame(known, each))) before.push(each);
    last = begun.values.slice(0, NUMBER_FIELDS.length);
    earlier.push(...begun.earlier, { sent: use.entry.sent, values: last });
  }
  return { example: { witness: witnessOf(values, flow, sent), sentAt: sent.at, before }, values, earlier };
}

function isSame(a: Earlier, b: Earlier): boolean {
  const values = new Map(b.witness.numbers);
  return (
    a.sentAt === b.sentAt &&
    a.witness.numbers.length === b.witness.numbers.length &&
    a.witness.numbers.every(([field, value]) => values.get(field) === value)
  );
}

/** The connections in the order in which the packet met them. */
function usesOf(last: Use | undefined): readonly Use[] {
  const uses: Use[] = [];
  for (let use = last; use !== undefined; use = use.next) uses.push(use);
  return uses.reverse();
}

/** Packets of a connection that fit the packet chosen. */
function bound({ entry, links }: Use, values: readonly bigint[]): Entry["flow"] {
  const sets = [...entry.flow.sets];
  for (const { theirs, ours } of links) {
    const value = (values[ours.variable] ?? 0n) + ours.plus - theirs.plus;
    if (rangesContain(sets[theirs.variable] ?? [], value)) sets[theirs.variable] = single(value);
  }
  return { ...entry.flow, sets };
}

// -- values --------------------------------------------------------------------------------------------------------

/** A value for each variable, those as sent first. */
function valuesOfVariables(
  { flow, sent, uses, isEarlier = false }: Shown,
  like: readonly bigint[],
  choosing: Choosing,
): readonly bigint[] {
  const isAnswer = uses !== undefined;
  return flow.sets.map((set, variable) => {
    const wanted = like[variable];
    if (wanted !== undefined && rangesContain(set, wanted)) return wanted;
    const field =
      variable < NUMBER_FIELDS.length
        ? variable
        : meaningOf(flow.view.findIndex((sight) => sight.variable === variable));
    return chosen(set, { field, family: familyOf(flow), isAnswer, isEarlier, sent }, choosing);
  });
}

const SYN = 0x02n;
const SYN_ACK = 0x12n;
const ACK = 0x10n;

const PLAIN: ReadonlyMap<number, readonly bigint[]> = new Map([
  [PROTOCOL, [6n, 17n, 1n, 58n]],
  [SOURCE_PORT, [40_000n]],
  // The web, a shell, names, shares, leases, the time (IANA's registry of service names, from memory).
  [DESTINATION_PORT, [443n, 22n, 80n, 53n, 445n, 67n, 123n, 161n, 40_000n]],
  [ICMP_CODE, [0n]],
  [TCP_FLAGS, [SYN, SYN_ACK, ACK]],
  [HOP_LIMIT, [64n, 255n]],
  [VLAN, [0n]],
]);

/** Echo requests first, then the errors that say that a destination cannot be reached. */
const ICMP_PLAIN = { 4: [8n, 3n, 0n], 6: [128n, 1n, 129n] } as const;

function plainOf({ field, family, isAnswer, isEarlier }: Place): readonly bigint[] {
  if (field === ICMP_TYPE) return ICMP_PLAIN[family];
  // Whatever became of the connection meanwhile, an answer to its first packet still belongs to it.
  if (field === TCP_FLAGS && isAnswer) return [SYN_ACK, ACK, SYN];
  // A reset ends a connection that has seen nothing else; no answer to a datagram does.
  if (field === PROTOCOL && (isAnswer || isEarlier)) return [17n, 6n, 1n, 58n];
  return PLAIN.get(field) ?? [];
}

type Place = {
  readonly field: number;
  readonly family: 4 | 6;
  readonly isAnswer: boolean;
  readonly isEarlier: boolean;
  readonly sent: Sent;
};

function chosen(set: Ranges, place: Place, choosing: Choosing): bigint {
  const { field, sent } = place;
  if (field === SOURCE) return chosenSource(place.isAnswer ? silentIn(set, choosing) : set, sent, choosing);
  if (field === DESTINATION) return chosenDestination(place.isEarlier ? silentIn(set, choosing) : set, choosing);
  for (const value of plainOf(place)) if (rangesContain(set, value)) return value;
  return lowest(set);
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

function firstIn(set: Ranges, keys: Iterable<bigint>): bigint | undefined {
  for (const key of keys) if (rangesContain(set, key)) return key;
  return undefined;
}

function* keysOf(legs: Iterable<Leg>): Iterable<bigint> {
  for (const leg of legs) for (const address of leg.settled.addresses) yield addressKey(address);
}

/** Interfaces that can be where a packet is sent: those beyond the attachment where it enters, then those it gets to. */
function* onLinkAt({ at }: Sent, { atlas, reaches }: Choosing): Iterable<Leg> {
  const node = atlas.nodes.get(at);
  if (node !== undefined) yield* node.legs;
  else {
    for (const peer of peersOf(atlas, at)) yield* atlas.legsOn.get(atlas.bondOf.get(peer) ?? peer) ?? [];
    for (const touch of reaches.ofEntrances([at]).touches) yield touch.leg;
  }
}

/** Addresses that no station has, where there are any: nobody answers the packet that went there first. */
function silentIn(set: Ranges, { atlas }: Choosing): Ranges {
  const silent = subtractRanges(set, atlas.owned);
  return silent.length === 0 ? set : silent;
}

/** The lowest address of a set that a station has. */
function ownedIn(set: Ranges, { atlas }: Choosing): bigint | undefined {
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

function chosenSource(set: Ranges, sent: Sent, choosing: Choosing): bigint {
  const near = [...onLinkAt(sent, choosing)];
  const hosts = near.filter((leg) => !leg.node.forwards || leg.node.stack.id === sent.at);
  return firstIn(set, keysOf(hosts)) ?? beside(set, near) ?? ownedIn(set, choosing) ?? lowestHost(set);
}

/** A free address of a network that these interfaces are in. */
function beside(set: Ranges, legs: readonly Leg[]): bigint | undefined {
  for (const leg of legs) {
    for (const { value: route, low, high } of leg.node.stretches) {
      if (route === undefined || !isOnLink(route, leg)) continue;
      const free = subtractRanges(intersectRanges(set, [[low, high]]), leg.node.own);
      if (free.length > 0) return lowestHost(free);
    }
  }
  return undefined;
}

function isOnLink({ action }: Route, { interface: { id } }: Leg): boolean {
  return action.do === "forward" && action.hops.some((hop) => hop.egress === id && hop.via === undefined);
}

/** Addresses that stand for the internet: TEST-NET-2 (RFC 5737) and the documentation prefix (RFC 3849). */
const BEYOND: readonly bigint[] = [0xc6336401n, (1n << 128n) | (0x20010db8n << 96n) | 1n];

function chosenDestination(set: Ranges, choosing: Choosing): bigint {
  const aimed = intersectRanges(set, choosing.aim.addresses);
  const somewhere = (within: Ranges) => firstIn(within, BEYOND) ?? lowestHost(within);
  return (
    ownedIn(aimed, choosing) ??
    (aimed.length > 0 ? somewhere(aimed) : undefined) ??
    ownedIn(set, choosing) ??
    somewhere(set)
  );
}

// -- the packet ----------------------------------------------------------------------------------------------------

function witnessOf(values: readonly bigint[], flow: Flow, sent: Sent): Witness {
  const universe = universeOf(flow.sets);
  const numbers = NUMBER_FIELDS.flatMap((field, index): [typeof field, bigint][] => {
    const value = values[index] ?? -1n;
    const isOpen = flow.sets[index] === universe[index];
    if (value < 0n || (index === LENGTH && isOpen)) return [];
    const told = isOpen ? framed(index, value, sent) : value;
    return told === undefined ? [] : [[field, told]];
  });
  const names: Witness["names"] = sent.egress === undefined ? [] : [["egress", sent.egress]];
  return {
    numbers,
    names,
    ...(sent.tags.length > 1 ? { tags: sent.tags } : {}),
    ...(sent.session === undefined ? {} : { session: sent.session }),
  };
}

/** Fields of the frame follow from how the packet is sent. */
function framed(index: number, value: bigint, sent: Sent): bigint | undefined {
  const [outer] = sent.tags;
  if (index === VLAN) return outer === undefined ? 0n : 4096n + BigInt(outer);
  if (index === DESTINATION_HARDWARE) return sent.towards;
  // A made-up one: that of a station which sits elsewhere would draw its frames to where this one is sent.
  if (index === SOURCE_HARDWARE) return undefined;
  return value;
}
