/**
 * Packets by which somebody is known who hears no questions: whoever hands packets to an address has asked for it itself
 * (kernel fact 12). They are its own, as its rules let them out, or those of others that it sends on.
 */
import {
  addressKey,
  isLinkLocal,
  keyAddress,
  prefixContains,
  prefixOf,
  type Ranges,
  rangesContain,
  rangesOf,
  rangesWithin,
  single,
  subtractRanges,
} from "../address/index.ts";
import type { Bridge, Id } from "../network/index.ts";
import type { Leg } from "./atlas.ts";
import { askedFrom, askingAddresses, facedBy } from "./facing.ts";
import { DESTINATION, EGRESS, ICMP_CODE, ICMP_TYPE, SOURCE, UNIVERSES } from "./fields.ts";
import { type Flow, flowOf, narrowed, withName, without } from "./flow.ts";
import { framesTo } from "./frames.ts";
import type { Touch } from "./link.ts";
import { type Greeting, namesAt, type Passage, type Sent, withFlow } from "./passage.ts";
import { passing, routed, through } from "./quiet.ts";
import { valueAt } from "./stretches.ts";
import { familyOf } from "./tracking.ts";
import type { Walk } from "./walk.ts";

/** Who is to be known to whom, and by which address (as a key). */
export type Introduced = {
  /** Who hears no questions. */
  readonly owner: Leg;
  /** Who is to know it. */
  readonly asker: Leg;
  /** Key of the owner's address. */
  readonly address: bigint;
};

/** The first kind of packets that introduce an interface; undefined: it never asks. */
export function greetingOf(walk: Walk, who: Introduced): Greeting | undefined {
  const found = bySending(walk, who) ?? byForwarding(walk, who);
  if (found === undefined) return undefined;
  const { flow, sent, trail, doubt } = found;
  return { flow, sent, picks: trail.picks, ...(doubt === undefined ? {} : { doubt }) };
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

/**
 * Whether an interface that sent something to another one without a gateway asked for it from the only one of these addresses,
 * whichever of the other's it asked for.
 */
export function askedFromThese(leg: Leg, to: Leg, addresses: Ranges): boolean {
  const near = rangesOf(sendsStraightTo(leg, to, 4).map(addressKey));
  if (near.length === 0) return true;
  return facedBy(askingAddresses(leg), near).every(
    ({ by }) => by !== undefined && rangesWithin(single(addressKey(by)), addresses),
  );
}

function nearKeys({ owner, asker, address }: Introduced, family: 4 | 6): Ranges {
  const keys = rangesOf(sendsStraightTo(owner, asker, family).map(addressKey));
  return family === 4 ? askedFrom(owner, address, keys) : keys;
}

/** Any packets: those of ICMP first, an echo request before all. */
function anyOf(family: 4 | 6): readonly Flow[] {
  const flows = UNIVERSES.map((sets) => flowOf(sets)).filter((flow) => familyOf(flow) === family);
  const echoes = flows.flatMap((flow) => {
    const echo = narrowed(flow, ICMP_TYPE, single(family === 4 ? 8n : 128n));
    return (echo && narrowed(echo, ICMP_CODE, single(0n))) ?? [];
  });
  return [...echoes, ...flows];
}

// -- its own packets -----------------------------------------------------------------------------------------------

/** A program may name the interface, whatever the routes say. */
function bySending(walk: Walk, who: Introduced): Passage | undefined {
  const { owner, address } = who;
  const { family } = keyAddress(address);
  const { id } = owner.interface;
  const sent: Sent = { at: owner.node.stack.id, tags: [], egress: id };
  for (const flow of anyOf(family)) {
    const near = narrowed(flow, DESTINATION, nearKeys(who, family));
    const from = near && narrowed(near, SOURCE, single(address));
    if (from === undefined) continue;
    const named = withName({ ...from, names: namesAt(undefined) }, EGRESS, [id]);
    const start = { ...passing(owner, named, owner.node.stack.sent, routed(owner), sent), egress: owner };
    const [found] = through(walk, start, ["neighbour"]).flatMap((passage) => asking(passage, who));
    if (found !== undefined) return found;
  }
  return undefined;
}

/**
 * ARP asks from the address that faces who is asked (`nearKeys`); discovery from that of the packet where it is of the interface,
 * else from the link-local one.
 */
function asking(passage: Passage, { owner, address }: Introduced): readonly Passage[] {
  const own = keyAddress(address);
  if (own.family === 4) return [passage];
  const others = subtractRanges(owner.own, single(address));
  const flow = isLinkLocal(own)
    ? without(passage.flow, SOURCE, others)
    : narrowed(passage.flow, SOURCE, single(address));
  return flow === undefined ? [] : [withFlow(passage, flow)];
}

// -- what it sends on ----------------------------------------------------------------------------------------------

/** By whatever interface it comes in, from anybody who can put it there. */
function byForwarding(walk: Walk, who: Introduced): Passage | undefined {
  const { node } = who.owner;
  if (!node.forwards) return undefined;
  const { family } = keyAddress(who.address);
  for (const leg of [...node.legs.filter((other) => other !== who.owner), ...sharedLink(walk, who)]) {
    const way = family === 6 && !leg.interface.speaks6 ? undefined : wayInto(walk, leg);
    if (way === undefined) continue;
    for (const { flow, sent } of anyOf(family).flatMap((any) => framesTo(walk, any, way))) {
      const entering = { ...flow, names: namesAt(leg) };
      const start = { ...passing(leg, entering, leg.node.stack.received, 0, sent), ingress: leg };
      const [found] = through(walk, start, ["neighbour"])
        .flatMap((passage) => handingOver(passage, who))
        .flatMap((passage) => asking(passage, who));
      if (found !== undefined) return found;
    }
  }
  return undefined;
}

/** The link between both, where others may sit: on a bridge of it, or on one of their own. */
function sharedLink({ ground: { atlas, reaches } }: Walk, { owner, asker }: Introduced): readonly Leg[] {
  const { points, touches } = reaches.of(owner);
  const hasOthers = touches.some(({ leg }) => leg.node !== asker.node) || points.some(({ at }) => !atlas.ports.has(at));
  return hasOthers ? [owner] : [];
}

/** Of packets at the step that asks, those for which it asks for the other one. */
function handingOver(passage: Passage, who: Introduced): readonly Passage[] {
  const { egress, via } = passage;
  const near = nearKeys(who, keyAddress(who.address).family);
  if (egress !== who.owner) return [];
  if (via !== undefined) return rangesContain(near, via) ? [passage] : [];
  const flow = narrowed(passage.flow, DESTINATION, near);
  return flow === undefined ? [] : [withFlow(passage, flow)];
}

/** How a frame gets to an interface: by its own attachment, or by a port of the bridge it stands on; undefined: none does. */
function wayInto({ ground: { atlas, reaches, notes } }: Walk, leg: Leg): Touch | undefined {
  const { on, id } = leg.interface;
  notes.wiring(id);
  const place = atlas.bridgePortAt.get(on);
  const doors: readonly Id[] = place?.port.own === true ? portsOf(place.bridge) : [on];
  return doors.flatMap((door) => reaches.ofEntrances([door]).touches).find((touch) => touch.leg === leg);
}

function portsOf({ ports }: Bridge): readonly Id[] {
  return ports.flatMap(({ own, on }) => (own ? [] : [on]));
}
