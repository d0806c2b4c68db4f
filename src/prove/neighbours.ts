/**
 * Whether a neighbour that owns an address can be found: the question has to get to it and the answer back. ARP asks
 * the routes of the one asked about the asker (kernel fact 8); neighbour discovery goes through the rules of both (fact
 * 18). A neighbour that hears no questions is still found by those it has asked itself (fact 12).
 */
import {
  addressKey,
  FAMILY_KEYS,
  intersectRanges,
  isLinkLocal,
  keyAddress,
  prefixContains,
  prefixOf,
  type Ranges,
  ranges,
  single,
  solicitedNode,
  subtractRanges,
} from "../address/index.ts";
import type { Step } from "../network/index.ts";
import { type Leg, sourcesOf } from "./atlas.ts";
import { DESTINATION, EGRESS, HOP_LIMIT, ICMP_CODE, ICMP_TYPE, PROTOCOL, SOURCE, UNIVERSES } from "./fields.ts";
import { type Flow, flowOf, framedBy, narrowed, valuesOf, withName, without, withSet } from "./flow.ts";
import { Meter } from "./meter.ts";
import { type Acquaintance, namesAt, type Passage } from "./passage.ts";
import { LINK_LOCAL } from "./reaches.ts";
import { sourcesBy } from "./step-checks.ts";
import { valueAt } from "./stretches.ts";
import { familyOf } from "./tracking.ts";
import { stepped } from "./trail.ts";
import { Walk } from "./walk.ts";

/** Neighbour solicitation and advertisement: RFC 4861 sections 4.3 and 4.4. */
const SOLICITATION = 135n;
const ADVERTISEMENT = 136n;
const FROM_THIS_LINK = 255n;

/** Packets that wait for a neighbour, and the addresses that it is asked from for them. */
export type Asking = {
  /** The packets. */
  readonly flow: Flow;
  /** The addresses, as keys. */
  readonly from: Ranges;
};

/** Who may answer, and for what. */
export type Asked = {
  /** Interfaces that own what is asked for. */
  readonly owners: readonly Leg[];
  /** What is asked for, as keys. */
  readonly addresses: Ranges;
};

/**
 * IPv6 asks from the address of the packet that waits where it is of the egress interface, else from the link-local one
 * (RFC 4861 section 7.2.2, and the kernel); IPv4 from the same for all. Packets are kept together where that is the same.
 */
export function askersOf(walk: Walk, egress: Leg, flow: Flow, { owners, addresses }: Asked): readonly Asking[] {
  const own = ofFamily(sourcesOf(egress), familyOf(flow));
  const linkLocal = intersectRanges(own, LINK_LOCAL).slice(0, 1);
  if (linkLocal.length === 0) return [{ flow, from: own }];
  const how = (from: Ranges): string =>
    owners.map((owner) => acquaintanceOf(walk, egress, owner, addresses, from)).join(" ");
  const mine = keysIn(own).flatMap((key): readonly Asking[] => {
    const piece = narrowed(flow, SOURCE, single(key));
    return piece === undefined || how(single(key)) === how(linkLocal) ? [] : [{ flow: piece, from: single(key) }];
  });
  const others = mine.reduce<Flow | undefined>((left, { from }) => left && without(left, SOURCE, from), flow);
  return [...mine, ...(others === undefined ? [] : [{ flow: others, from: linkLocal }])];
}

/** Each number of a small set. */
function keysIn(set: Ranges): readonly bigint[] {
  return set.flatMap(([low, high]) => Array.from({ length: Number(high - low) + 1 }, (_, at) => low + BigInt(at)));
}

/** How one interface finds another for some of its addresses, when it asks from these. */
export function acquaintanceOf(walk: Walk, asker: Leg, owner: Leg, addresses: Ranges, from: Ranges): Acquaintance {
  const { reaches, acquaintances, notes } = walk.ground;
  for (const { node } of [asker, owner]) notes.stack(node.stack.id);
  // Peers of a session know one another.
  if (asker.interface.session !== undefined) return "asked";
  if (!reaches.leads(owner, asker)) return "never";
  const key = [asker.interface.id, owner.interface.id, wordOf(addresses), wordOf(from)].join(" ");
  const known =
    acquaintances.get(key) ??
    (isIpv4(addresses) ? byArp(asker, owner) : byDiscovery(walk, { asker, owner, addresses, from }));
  acquaintances.set(key, known);
  return known;
}

function wordOf(keys: Ranges): string {
  return keys.map(([low, high]) => `${low}-${high}`).join("+");
}

function ofFamily(keys: Ranges, family: 4 | 6): Ranges {
  return intersectRanges(keys, [FAMILY_KEYS[family]]);
}

function isIpv4(addresses: Ranges): boolean {
  return (addresses[0]?.[0] ?? 0n) <= FAMILY_KEYS[4][1];
}

/** Some address of the asker passes the checks of the one asked. */
function hearsArp(asker: Leg, owner: Leg): boolean {
  let senders = ofFamily(asker.own, 4);
  if (senders.length === 0) senders = ofFamily(asker.node.own, 4);
  for (const step of [...owner.node.stack.received, ...owner.node.stack.local]) {
    if (step.op === "own-source") senders = subtractRanges(senders, owner.node.own);
    if (step.op === "reverse-path" && step.family !== 6)
      senders = intersectRanges(senders, sourcesBy(owner, step.mode));
  }
  return senders.length > 0;
}

function byArp(asker: Leg, owner: Leg): Acquaintance {
  if (hearsArp(asker, owner)) return "asked";
  return hearsArp(owner, asker) && sendsStraightTo(owner, asker, 4).length > 0 ? "heard" : "never";
}

/**
 * Addresses of an interface that another one sends to without a gateway, and so asks for itself: in IPv6 those of the link,
 * whatever the routes (RFC 4291 section 2.5.6).
 */
export function sendsStraightTo(leg: Leg, to: Leg, family: 4 | 6): readonly Leg["settled"]["addresses"][number][] {
  const { ways, stack } = leg.node;
  const { id } = leg.interface;
  return to.settled.addresses.filter((address) => {
    if (address.family !== family) return false;
    if (address.family === 6 && isLinkLocal(address)) return true;
    const key = addressKey(address);
    const isNear = leg.settled.addresses.some((own) => prefixContains(prefixOf(own, own.prefixLength), address));
    const action = valueAt(ways, key)?.action;
    const hops = action?.do === "forward" ? action.hops : [];
    const isRouted = hops.some(({ egress, via }) => egress === id && via === undefined);
    return isNear || isRouted || stack.answersFor === "everywhere";
  });
}

type Discovery = { readonly asker: Leg; readonly owner: Leg; readonly addresses: Ranges; readonly from: Ranges };

function byDiscovery(walk: Walk, { asker, owner, addresses, from }: Discovery): Acquaintance {
  const quiet = new Walk({ ...walk.ground, meter: new Meter(Number.POSITIVE_INFINITY) }, walk.take);
  if (asks(quiet, asker, owner, from, addresses)) return "asked";
  const near = sendsStraightTo(owner, asker, 6).map(addressKey);
  const sought = ranges(...near.map((key) => [key, key] as const));
  return asks(quiet, owner, asker, addresses, sought, false) ? "heard" : "never";
}

/** A question gets through, and, where it is asked for, the answer back. */
function asks(walk: Walk, asker: Leg, owner: Leg, from: Ranges, about: Ranges, isAnswered = true): boolean {
  const heard = carried(walk, asker, owner, message(SOLICITATION, from, solicited(about)));
  if (heard.length === 0 || !isAnswered) return heard.length > 0;
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
  const { stack } = from.node;
  const routed = stack.sent.findIndex((step) => step.op === "route") + 1;
  const named = withName({ ...flow, names: namesAt(undefined) }, EGRESS, [from.interface.id]);
  const start = { ...passing(from, named, stack.sent, routed), egress: from };
  return through(walk, start, ["neighbour", "transmit"]).flatMap((sent) => {
    const arriving = { ...framedBy(sent.flow, from.interface.hardware), names: namesAt(to) };
    const entered = { ...passing(to, arriving, to.node.stack.received, 0), ingress: to };
    return through(walk, entered, ["deliver"]).map((passage) => passage.flow);
  });
}

function passing(leg: Leg, flow: Flow, steps: readonly Step[], next: number): Passage {
  const { stack } = leg.node;
  const trail = stepped(undefined, stack.id, "ask", stack.origin);
  const sent = { at: stack.id, tags: [] };
  return { node: leg.node, steps, next, flow, trail, sent, depth: 0, counts: false, aimed: false, arrived: false };
}

/** Takes packets through their steps up to one of these; what ends or goes another way is left out. */
function through(walk: Walk, start: Passage, until: readonly Step["op"][]): readonly Passage[] {
  const done: Passage[] = [];
  const work = [start];
  for (let passage = work.pop(); passage !== undefined; passage = work.pop()) {
    const op = passage.steps[passage.next]?.op;
    if (op !== undefined && until.includes(op)) done.push(passage);
    else if (op !== "transmit" && op !== "neighbour") work.push(...walk.take(walk, passage));
  }
  return done;
}
