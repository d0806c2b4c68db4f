/**
 * Whether a neighbour that owns an address can be found: the question has to get to it and the answer back. ARP asks
 * the routes of the one asked about the asker (kernel fact 8); neighbour discovery goes through the rules of both (fact
 * 18). A neighbour that hears no questions is still found by those it has asked itself (fact 12).
 */
import {
  addressKey,
  EMPTY_RANGES,
  FAMILY_KEYS,
  intersectRanges,
  keyAddress,
  type Ranges,
  ranges,
  rangesContain,
  rangesOf,
  single,
  solicitedNode,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import type { InterfaceAddress, Notes } from "../network/index.ts";
import { type Leg, sourcesOf } from "./atlas.ts";
import { askingAddresses, facedBy } from "./facing.ts";
import { DESTINATION, EGRESS, HOP_LIMIT, ICMP_CODE, ICMP_TYPE, PROTOCOL, SOURCE, UNIVERSES } from "./fields.ts";
import { type Flow, flowOf, framedBy, narrowed, valuesOf, withName, without, withSet } from "./flow.ts";
import { greetingOf, sendsStraightTo } from "./greetings.ts";
import { type Acquaintance, type Learned, namesAt } from "./passage.ts";
import { passing, quietWalk, routed, through } from "./quiet.ts";
import { LINK_LOCAL } from "./reaches.ts";
import { sourcesBy } from "./step-checks.ts";
import { familyOf } from "./tracking.ts";
import type { Walk } from "./walk.ts";

/** Neighbour solicitation and advertisement: RFC 4861 sections 4.3 and 4.4. */
const SOLICITATION = 135n;
const ADVERTISEMENT = 136n;
const FROM_THIS_LINK = 255n;

const ASKED: Acquaintance = { how: "asked" };
const NEVER: Acquaintance = { how: "never" };

/** Packets that wait for a neighbour, and the addresses that it is asked from for them. */
export type Asking = {
  /** The packets. */
  readonly flow: Flow;
  /** The addresses, as keys. */
  readonly from: Ranges;
  /** What is asked for, as keys. */
  readonly addresses: Ranges;
};

/** Who may answer, and for what. */
export type Asked = {
  /** Interfaces that own what is asked for. */
  readonly owners: readonly Leg[];
  /** What is asked for, as keys. */
  readonly addresses: Ranges;
  /** It is a gateway; else the destination itself. */
  readonly isGateway: boolean;
};

/** Packets by the addresses that a neighbour is asked from for them, kept together where that is the same. */
export function askersOf(walk: Walk, egress: Leg, flow: Flow, asked: Asked): readonly Asking[] {
  return familyOf(flow) === 4 ? arpAskers(walk, egress, flow, asked) : discoveryAskers(walk, egress, flow, asked);
}

/** ARP asks from the address that faces what it asks for, whatever packet waits. */
function arpAskers(walk: Walk, egress: Leg, flow: Flow, { owners, addresses, isGateway }: Asked): readonly Asking[] {
  const faced = facedBy(askingAddresses(egress), addresses);
  const hows = owners.length === 0 ? [] : faced.map(({ hops, by }) => howOf(walk, egress, owners, hops, keysOf(by)));
  if (hows.every((how) => how === hows[0]))
    return [{ flow, from: faced.map(({ by }) => keysOf(by)).reduce(unionRanges), addresses }];
  return faced.flatMap(({ hops, by }): readonly Asking[] => {
    const piece = isGateway ? flow : narrowed(flow, DESTINATION, hops);
    return piece === undefined ? [] : [{ flow: piece, from: keysOf(by), addresses: hops }];
  });
}

function keysOf(address: InterfaceAddress | undefined): Ranges {
  return address === undefined ? EMPTY_RANGES : single(addressKey(address));
}

function howOf(walk: Walk, egress: Leg, owners: readonly Leg[], addresses: Ranges, from: Ranges): string {
  return owners.map((owner) => acquaintanceOf(walk, egress, owner, addresses, from).how).join(" ");
}

/**
 * IPv6 asks from the address of the packet that waits where it is of the egress interface, else from the link-local one
 * (RFC 4861 section 7.2.2, and the kernel).
 */
function discoveryAskers(walk: Walk, egress: Leg, flow: Flow, { owners, addresses }: Asked): readonly Asking[] {
  const own = intersectRanges(sourcesOf(egress), [FAMILY_KEYS[6]]);
  const linkLocal = intersectRanges(own, LINK_LOCAL).slice(0, 1);
  if (linkLocal.length === 0) return [{ flow, from: own, addresses }];
  const how = (from: Ranges): string => howOf(walk, egress, owners, addresses, from);
  const mine = keysIn(own).flatMap((key): readonly Asking[] => {
    const piece = narrowed(flow, SOURCE, single(key));
    if (piece === undefined || how(single(key)) === how(linkLocal)) return [];
    return [{ flow: piece, from: single(key), addresses }];
  });
  const others = mine.reduce<Flow | undefined>((left, { from }) => left && without(left, SOURCE, from), flow);
  return [...mine, ...(others === undefined ? [] : [{ flow: others, from: linkLocal, addresses }])];
}

/** Each number of a small set. */
export function keysIn(set: Ranges): readonly bigint[] {
  return set.flatMap(([low, high]) => Array.from({ length: Number(high - low) + 1 }, (_, at) => low + BigInt(at)));
}

/** How one interface finds another for some of its addresses, when it asks from these. */
export function acquaintanceOf(walk: Walk, asker: Leg, owner: Leg, addresses: Ranges, from: Ranges): Acquaintance {
  const { reaches, acquaintances, notes } = walk.ground;
  for (const { node } of [asker, owner]) notes.stack(node.stack.id);
  // Peers of a session know one another.
  if (asker.interface.session !== undefined) return ASKED;
  if (!reaches.leads(owner, asker)) return NEVER;
  const key = [asker.interface.id, owner.interface.id, wordOf(addresses), wordOf(from)].join(" ");
  const known = acquaintances.get(key) ?? learned(walk, { asker, owner, addresses, from });
  acquaintances.set(key, known);
  for (const tell of known.told) tell(notes);
  return known.acquaintance;
}

type Between = { readonly asker: Leg; readonly owner: Leg; readonly addresses: Ranges; readonly from: Ranges };

/** What is looked at for it is told to whoever asks for it again. */
function learned(walk: Walk, between: Between): Learned {
  const told: ((notes: Notes) => void)[] = [];
  const quiet = quietWalk(walk, {
    stack: (id) => told.push((notes) => notes.stack(id)),
    listeners: (id) => told.push((notes) => notes.listeners(id)),
    filter: (id, packets) => told.push((notes) => notes.filter(id, packets)),
    routes: (routes, destinations) => told.push((notes) => notes.routes(routes, destinations)),
    wiring: (id) => told.push((notes) => notes.wiring(id)),
    link: (ids) => told.push((notes) => notes.link(ids)),
    end: (id) => told.push((notes) => notes.end(id)),
    owners: (addresses) => told.push((notes) => notes.owners(addresses)),
    turned: (destinations) => told.push((notes) => notes.turned(destinations)),
  });
  const acquaintance = isIpv4(between.addresses) ? byArp(quiet, between) : byDiscovery(quiet, between);
  return { acquaintance, told };
}

function wordOf(keys: Ranges): string {
  return keys.map(([low, high]) => `${low}-${high}`).join("+");
}

function isIpv4(addresses: Ranges): boolean {
  return (addresses[0]?.[0] ?? 0n) <= FAMILY_KEYS[4][1];
}

/** Some address that is asked from passes the checks of the one asked; none at all does, too. */
function hearsArp(owner: Leg, from: Ranges): boolean {
  if (from.length === 0) return true;
  let senders = from;
  for (const step of [...owner.node.stack.received, ...owner.node.stack.local]) {
    if (step.op === "own-source") senders = subtractRanges(senders, owner.node.own);
    if (step.op === "reverse-path" && step.family !== 6)
      senders = intersectRanges(senders, sourcesBy(owner, step.mode));
  }
  return senders.length > 0;
}

function byArp(walk: Walk, between: Between): Acquaintance {
  const { asker, owner, addresses, from } = between;
  if (hearsArp(owner, from) && walk.ground.reaches.leadsAlone(owner, asker)) return ASKED;
  return hearsArp(asker, addresses) ? byGreeting(walk, between) : NEVER;
}

function byDiscovery(walk: Walk, between: Between): Acquaintance {
  const { asker, owner, addresses, from } = between;
  if (asks(walk, asker, owner, from, addresses)) return ASKED;
  const near = sendsStraightTo(owner, asker, 6).map(addressKey);
  const sought = rangesOf(near);
  return asks(walk, owner, asker, addresses, sought, false) ? byGreeting(walk, between) : NEVER;
}

function byGreeting(walk: Walk, { asker, owner, addresses }: Between): Acquaintance {
  for (const address of addressesToAskFrom(owner, addresses)) {
    const greeting = greetingOf(walk, { asker, owner, address });
    if (greeting !== undefined) return { how: "heard", greeting };
  }
  return NEVER;
}

/**
 * Of some addresses those that an interface may ask from: of IPv4 its own, each for what it faces; of IPv6 the first stands for all,
 * but nobody asks from an anycast one.
 */
function addressesToAskFrom(owner: Leg, addresses: Ranges): readonly bigint[] {
  if (isIpv4(addresses))
    return askingAddresses(owner)
      .map(addressKey)
      .filter((key) => rangesContain(addresses, key));
  return subtractRanges(addresses, anycastOf(owner))
    .slice(0, 1)
    .map(([low]) => low);
}

/** Keys of the anycast addresses of an interface. */
export function anycastOf({ settled }: Leg): Ranges {
  return ranges(...settled.anycast.map((address) => [addressKey(address), addressKey(address)] as const));
}

/** A question gets through, and, where it is asked for, the answer back. */
function asks(walk: Walk, asker: Leg, owner: Leg, from: Ranges, about: Ranges, isAnswered = true): boolean {
  const heard = carried(walk, asker, owner, message(SOLICITATION, from, solicited(about)));
  if (heard.length === 0 || !isAnswered) return heard.length > 0;
  if (!walk.ground.reaches.leadsAlone(owner, asker)) return false;
  return heard.some(
    (flow) => carried(walk, owner, asker, message(ADVERTISEMENT, about, valuesOf(flow, SOURCE))).length > 0,
  );
}

function solicited(addresses: Ranges): Ranges {
  return ranges(
    ...addresses.map(([low]) => {
      const key = addressKey(solicitedNode(keyAddress(low)));
      return [key, key] as const;
    }),
  );
}

function message(type: bigint, source: Ranges, destination: Ranges): Flow | undefined {
  if (source.length === 0 || destination.length === 0) return undefined;
  const universe = UNIVERSES.find((sets) => familyOf(flowOf(sets)) === 6 && sets[PROTOCOL]?.[0]?.[0] === 58n);
  if (universe === undefined) throw new Error("no universe of ICMPv6");
  const values: readonly (readonly [number, Ranges])[] = [
    [SOURCE, source],
    [DESTINATION, destination],
    [ICMP_TYPE, single(type)],
    [ICMP_CODE, single(0n)],
    [HOP_LIMIT, single(FROM_THIS_LINK)],
  ];
  return values.reduce((flow, [field, set]) => withSet(flow, field, set), flowOf(universe));
}

/** What comes of a message from one interface to another, through the rules of both. */
function carried(walk: Walk, from: Leg, to: Leg, flow: Flow | undefined): readonly Flow[] {
  if (flow === undefined || !to.interface.speaks6) return [];
  const named = withName({ ...flow, names: namesAt(undefined) }, EGRESS, [from.interface.id]);
  const start = { ...passing(from, named, from.node.stack.sent, routed(from)), egress: from };
  return through(walk, start, ["neighbour", "transmit"]).flatMap((sent) => {
    const arriving = { ...framedBy(sent.flow, from.interface.hardware), names: namesAt(to) };
    const entered = { ...passing(to, arriving, to.node.stack.received, 0), ingress: to };
    return through(walk, entered, ["deliver"]).map((passage) => passage.flow);
  });
}
