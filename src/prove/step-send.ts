/**
 * The last steps: `neighbour` asks who on the link takes the packets, `transmit` hands them over, `deliver` is the end.
 * What counts as reaching the target is decided here and nowhere else.
 */
import { BROADCAST_HARDWARE, type Ranges, single, subtractRanges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Id, Pick as Option, TunnelEnd } from "../network/index.ts";
import { choiceId } from "../settle/index.ts";
import { countingAt } from "./aim.ts";
import type { Leg } from "./atlas.ts";
import { DESTINATION } from "./fields.ts";
import { type Flow, framedBy, framedTo, narrowed, valuesOf, without } from "./flow.ts";
import { askedFromThese } from "./greetings.ts";
import { groupsOf } from "./groups.ts";
import { takenInAt, takerOf } from "./kept.ts";
import { acquaintanceOf, anycastOf, askersOf, keysIn } from "./neighbours.ts";
import { having, onward, type Passage, withFlow } from "./passage.ts";
import { type LegReach, pointsIn } from "./reaches.ts";
import { NO_NEIGHBOUR } from "./refusal.ts";
import { drop, refuse, type StepOf } from "./step-checks.ts";
import { isGrouped } from "./step-route.ts";
import { cutBy } from "./stretches.ts";
import { changed, familyOf } from "./tracking.ts";
import { areOne, joined, stepped, type Trail, taking } from "./trail.ts";
import { type Ending, optional, type Walk } from "./walk.ts";

// -- neighbour -----------------------------------------------------------------------------------------------------

/** Asks who takes the packets on the egress link. */
export function takeNeighbour(walk: Walk, passage: Passage, step: StepOf<"neighbour">): readonly Passage[] {
  const { egress, flow, turns, node } = passage;
  if (turns === true) return [onward(passage)];
  if (egress === undefined) throw new Error(`\`${node.stack.id}\` asks for a neighbour before it routes`);
  walk.ground.notes.link([egress.interface.id]);
  if (egress.interface.tunnel !== undefined) return throughTunnel(walk, passage, egress, egress.interface.tunnel, step);
  if (!egress.settled.up) return askInVain(walk, passage, "interface-down", step.origin);
  const toGroups = narrowed(flow, DESTINATION, groupsOf(node).all);
  const toOne = without(flow, DESTINATION, groupsOf(node).all);
  const everyone = walk.ground.reaches.hearersOf(egress);
  // In a session every frame is to one station.
  const inSession = egress.interface.session !== undefined;
  return [
    ...(toGroups === undefined
      ? []
      : [onward(having(passage, { heirs: everyone }), inSession ? toGroups : framedTo(toGroups, BROADCAST_HARDWARE))]),
    ...(toOne === undefined ? [] : askForOne(walk, withFlow(passage, toOne), egress, step.origin)),
  ];
}

/** A tunnel takes what its peer is allowed, whatever the next hop. */
function throughTunnel(
  walk: Walk,
  passage: Passage,
  egress: Leg,
  { allowed, whenDown, reason, origin }: TunnelEnd,
  step: StepOf<"neighbour">,
): readonly Passage[] {
  refuse(walk, passage, without(passage.flow, DESTINATION, allowed), {
    reason: "no-neighbour",
    origin: step.origin,
    with: NO_NEIGHBOUR,
  });
  const taken = allowed.length === 0 ? undefined : narrowed(passage.flow, DESTINATION, allowed);
  if (taken === undefined) return [];
  const [peer] = walk.ground.reaches.hearersOf(egress);
  if (peer === undefined) {
    if (whenDown === "silent") drop(walk, passage, taken, reason, origin);
    else refuse(walk, passage, taken, { reason, origin, with: NO_NEIGHBOUR });
    return [];
  }
  const trail = stepped(passage.trail, passage.node.stack.id, "neighbour", step.origin, peer.interface.id);
  return [onward(having(passage, { trail, heirs: [peer] }), taken)];
}

function askForOne(walk: Walk, passage: Passage, egress: Leg, origin: Origin): readonly Passage[] {
  const owners = walk.ground.reaches.ownersOf(egress);
  const wanted = passage.via === undefined ? valuesOf(passage.flow, DESTINATION) : single(passage.via);
  const all = cutBy(owners, wanted);
  // Stations that exist first: they make the better examples.
  const pieces = [...all.filter(({ value }) => value !== undefined), ...all.filter(({ value }) => value === undefined)];
  walk.ground.meter.take(pieces.length);
  return pieces.flatMap(({ value, numbers }): readonly Passage[] => {
    const flow = passage.via === undefined ? narrowed(passage.flow, DESTINATION, numbers) : passage.flow;
    if (flow === undefined) return [];
    const here = withFlow(passage, flow);
    const owners = value ?? [];
    const isGateway = passage.via !== undefined;
    const askers = askersOf(walk, egress, flow, { owners, addresses: numbers, isGateway });
    return askers.flatMap(({ from, flow: asking, addresses }) => {
      const asked = { egress, from, addresses };
      const answering = owners.flatMap((leg) => {
        const { how } = acquaintanceOf(walk, egress, leg, addresses, from);
        return how === "never" ? [] : [{ leg, how }];
      });
      const rivals = answering.map(({ leg }) => leg.interface.id);
      const heirs = answering.flatMap((each) =>
        found(walk, withFlow(here, asking), { ...asked, ...each, rivals }, origin),
      );
      // Who is known only because it asked before is asked in vain without that.
      const isAsked = heirs.some(({ sent }) => sent.met === here.sent.met);
      return isAsked ? heirs : [...heirs, ...askInVain(walk, withFlow(here, asking), "no-neighbour", origin)];
    });
  });
}

type Neighbour = {
  readonly egress: Leg;
  readonly from: Ranges;
  readonly leg: Leg;
  readonly addresses: Ranges;
  /** For all of the addresses together. */
  readonly how: "asked" | "heard";
  /** Interfaces that answer for it, more than one where others do, too. */
  readonly rivals: readonly Id[];
};

/** Each of several owners is an outcome of its own: that it answers first. */
function found(
  walk: Walk,
  passage: Passage,
  { egress, from, leg, addresses, how, rivals }: Neighbour,
  origin: Origin,
): readonly Passage[] {
  const { id } = leg.interface;
  const pick = rivals.length > 1 ? { choice: choiceId("neighbour-owner", egress.interface.id), option: id } : undefined;
  // One choice is told for all addresses of a link: another owner of this very address was taken before.
  const isOther = passage.trail.picks.some(
    ({ choice, option }) => choice === pick?.choice && option !== id && rivals.includes(option),
  );
  if (isOther) return [];
  const trail = stepped(passage.trail, passage.node.stack.id, "neighbour", origin, id, pick);
  const next = having(passage, { trail, heirs: [leg] });
  if (hasJustAsked(passage, egress, leg, addresses)) return [onward(next)];
  if (how === "asked") return [onward(having(next, { waits: egress.interface.session === undefined }))];
  // Nobody asks from an anycast address, so nobody is known by it for having asked.
  return severally(subtractRanges(addresses, anycastOf(leg))).flatMap((some): readonly Passage[] => {
    const flow = passage.via === undefined ? narrowed(passage.flow, DESTINATION, some) : passage.flow;
    const known = acquaintanceOf(walk, egress, leg, some, from);
    if (flow === undefined || known.how !== "heard") return [];
    const { greeting } = known;
    const sent = { ...passage.sent, met: [...(passage.sent.met ?? []), greeting] };
    const doubt = passage.doubt ?? greeting.doubt;
    return [onward(having(next, { sent, ...optional({ doubt }) }), flow)];
  });
}

const FEW = 16n;

/** A few addresses each for itself: one is known for having asked, another one is not. */
function severally(addresses: Ranges): readonly Ranges[] {
  const isFew = addresses.reduce((sum, [low, high]) => sum + high - low + 1n, 0n) <= FEW;
  return isFew ? keysIn(addresses).map(single) : [addresses];
}

/** Whoever sent these very packets here by ARP asked who takes them, and so is known by the address that it asked from (kernel fact 12). */
function hasJustAsked({ ingress, visits, sent, flow }: Passage, egress: Leg, owner: Leg, wanted: Ranges): boolean {
  if (familyOf(flow) === 6 || ingress !== egress) return false;
  const before = visits?.before?.leg.node.stack.id ?? sent.at;
  return before === owner.node.stack.id && askedFromThese(owner, egress, wanted);
}

/**
 * An address of the target that nobody has yet could be had tomorrow, cable and all: its packets count as put on the
 * link. The rest is answered by nobody, on a dead link as on a living one (seen on Linux 6.18).
 */
function askInVain(
  walk: Walk,
  passage: Passage,
  reason: "no-neighbour" | "interface-down",
  origin: Origin,
): readonly Passage[] {
  const { egress, via } = passage;
  // What a bridge takes from nobody is put nowhere.
  const isPut = egress !== undefined && walk.ground.reaches.of(egress).points.length > 0;
  const counting = via === undefined && isPut ? walk.ground.aim.claimable : [];
  const [taken, lost] = divide(passage.flow, counting);
  refuse(walk, passage, lost, { reason, origin, with: NO_NEIGHBOUR });
  return taken === undefined ? [] : [onward(having(passage, { heirs: "unowned" }), taken)];
}

function divide(flow: Flow, within: Ranges): readonly [inside: Flow | undefined, outside: Flow | undefined] {
  if (within.length === 0) return [undefined, flow];
  return [narrowed(flow, DESTINATION, within), without(flow, DESTINATION, within)];
}

// -- transmit ------------------------------------------------------------------------------------------------------

/** Puts packets on the egress link: that is the target, or somebody takes them, or both. */
export function takeTransmit(walk: Walk, before: Passage, step: { readonly origin: Origin }): readonly Passage[] {
  const { turns, egress, node } = before;
  // What a connection still owes is paid before the packets leave.
  const paid = changed(changed(before, "destination"), "source");
  const trail = stepped(paid.trail, node.stack.id, "transmit", step.origin, egress?.interface.id ?? "to itself");
  const passage = withFlow(paid, paid.flow, trail);
  if (turns === true) return turnRound(passage);
  if (egress === undefined) throw new Error(`\`${node.stack.id}\` transmits before it routes`);
  walk.ground.notes.link([egress.interface.id]);
  const reach = walk.ground.reaches.of(egress);
  walk.lookAt(reach);
  const put = putOnLink(walk, passage, egress, reach);
  const heirs = put.heirs === "unowned" ? [] : (put.heirs ?? []);
  return heirs.flatMap((leg) => sharing(walk, put, leg, heirs).flatMap((piece) => handTo(walk, piece, leg, reach)));
}

/** What everyone on a link is sent has arrived as soon as one of them is the target's upstream: where other copies end does not matter. */
function sharing(walk: Walk, passage: Passage, leg: Leg, heirs: readonly Leg[]): readonly Passage[] {
  const { upstreams, beyond } = walk.ground.aim;
  const isHandedUp = heirs.some((other) => other !== leg && upstreams.has(other.interface.id));
  if (!isHandedUp || upstreams.has(leg.interface.id)) return [passage];
  const [counting, rest] = divide(passage.flow, beyond);
  return [
    ...(counting === undefined ? [] : [having(passage, { flow: counting, arrived: true })]),
    ...(rest === undefined ? [] : [withFlow(passage, rest)]),
  ];
}

function turnRound(passage: Passage): readonly Passage[] {
  return [having(passage, { turns: undefined, steps: passage.node.stack.received, next: 0 })];
}

/** The link itself may be the target: a segment of it, or where an address of it would live. */
function putOnLink(walk: Walk, passage: Passage, egress: Leg, reach: LegReach): Passage {
  const { aim } = walk.ground;
  const { origin, id, on } = egress.interface;
  const points = pointsIn(reach.points, aim.segments).filter(({ trail: way }) => isPassedOn(walk, passage, way));
  for (const { at, trail: way } of points) {
    const picks = picksFor(walk, passage, way);
    if (picks === undefined) continue;
    const trail = taking(way === undefined ? passage.trail : joined(passage.trail, way), picks);
    return arrived(walk, passage, trail, { at, origin: way?.step.origin ?? origin, end: "on-segment" });
  }
  const [lost] = points;
  // Only in a frame of its own do they get there; other ways of theirs may be sure.
  if (lost !== undefined)
    arrived(walk, doubted(passage, lost.trail), passage.trail, { at: lost.at, origin, end: "on-segment" });
  if (aim.upstreams.has(id)) return arrived(walk, passage, passage.trail, { at: on, origin, end: "on-segment" });
  if (passage.heirs !== "unowned") return passage;
  const place = walk.ground.atlas.bridgePortAt.get(on);
  const at = place?.port.own === true ? place.bridge.id : on;
  return arrived(walk, passage, passage.trail, { at, origin, end: "on-segment" });
}

/** Whether packets get so far on a way: what goes to one station alone its own bridge takes in, and passes on to nobody. */
function isPassedOn({ ground: { atlas } }: Walk, { heirs, flow }: Passage, way: Trail | undefined): boolean {
  if (way === undefined || heirs === undefined || heirs === "unowned" || isGrouped(flow)) return true;
  return heirs.every((heir) => takenInAt(atlas, heir, way) === undefined);
}

/**
 * Options to take besides, so that packets go a way and whom they wait for has answered: all frames over a bond leave it by
 * the member picked. Undefined: not by one pick.
 */
function picksFor(
  walk: Walk,
  { trail, egress, heirs, waits }: Passage,
  way: Trail | undefined,
): readonly Option[] | undefined {
  const picks = way?.picks ?? [];
  if (!areOne(trail.picks, picks)) return undefined;
  if (waits !== true || egress === undefined || heirs === undefined || heirs === "unowned") return picks;
  const [heir] = heirs;
  if (heir !== undefined) walk.ground.notes.link([heir.interface.id]);
  const more = heir && walk.ground.reaches.exchange(egress, heir, [...trail.picks, ...picks]);
  return more && [...picks, ...more];
}

/**
 * A bond that was left by one member before may be left by another one in a frame of its own: by packets that pass it twice,
 * or by the question for a neighbour, which its hash may send elsewhere. Which one, nobody knows.
 */
function doubted(passage: Passage, way: Trail | undefined): Passage {
  const isAgain = !areOne(passage.trail.picks, way?.picks ?? []);
  const before = isAgain ? "that were sent over it before" : "whose question for a neighbour takes another one";
  const note = `which member of a bond packets take ${before}`;
  const origin = way?.step.origin ?? passage.trail.step.origin;
  return having(passage, { doubt: passage.doubt ?? { note, origin, at: passage.node.stack.id } });
}

function arrived(walk: Walk, passage: Passage, trail: Trail, fate: Parameters<Walk["arrive"]>[1]): Passage {
  const there = walk.arrive(having(passage, { trail }), fate);
  return withFlow(there, there.flow, passage.trail);
}

function handTo(walk: Walk, passage: Passage, heir: Leg, reach: LegReach): readonly Passage[] {
  const wanted = reach.touchOf.get(heir.interface.id);
  if (wanted === undefined)
    throw new Error(`\`${heir.interface.id}\` is not on the link of \`${passage.node.stack.id}\``);
  const touch = isGrouped(passage.flow) ? wanted : takerOf(walk.ground.atlas, wanted, reach.touches);
  if (touch === undefined) return [];
  const { leg } = touch;
  const picks = picksFor(walk, passage, touch.trail);
  const trail = taking(joined(passage.trail, touch.trail), picks ?? []);
  const { sent, depth, counts, aimed, arrived, uses, strangers, quotes, visits, doubt, egress } =
    picks === undefined ? doubted(passage, touch.trail) : passage;
  const isLookedAt = egress !== undefined && walk.ground.looks.has("sourceHardware");
  const entering = {
    flow: isLookedAt ? framedBy(passage.flow, egress.interface.hardware) : passage.flow,
    sent,
    trail,
    depth: depth + 1,
    counts,
    aimed,
    arrived,
    uses,
    strangers,
    quotes,
    visits,
    doubt,
  };
  return handed(walk, entering, leg).flatMap((each) => walk.enter(leg, each));
}

/** What an upstream of the target is handed has arrived, as far as its destination counts; all of it goes on. */
export function handed<Kind extends Ending>(walk: Walk, entering: Kind, leg: Leg): readonly Kind[] {
  const { upstreams, beyond } = walk.ground.aim;
  if (!upstreams.has(leg.interface.id)) return [entering];
  const [counting, rest] = divide(entering.flow, beyond);
  const fate = { at: leg.interface.on, origin: leg.interface.origin, end: "on-segment" } as const;
  return [
    ...(counting === undefined ? [] : [walk.arrive({ ...entering, flow: counting }, fate)]),
    ...(rest === undefined ? [] : [{ ...entering, flow: rest }]),
  ];
}

// -- deliver -------------------------------------------------------------------------------------------------------

/** Packets have come to a stack: the target's, or somebody else's, which is no concern of the question. */
export function takeDeliver(walk: Walk, passage: Passage, step: { readonly origin: Origin }): readonly Passage[] {
  const { node, flow, trail, ingress } = passage;
  const [taken] = divide(flow, countingAt(walk.ground.aim, node, ingress));
  if (taken === undefined) return [];
  const there = stepped(trail, node.stack.id, "deliver", step.origin);
  walk.arrive(having(passage, { flow: taken, trail: there }), {
    at: node.stack.id,
    origin: step.origin,
    end: "delivered",
  });
  return [];
}
