/**
 * Where a walk begins: packets of the question that can matter, at every interface that frames from its entrances get to
 * and at the stacks of its senders; with them packets that nobody asked about, but whose connections could matter.
 */
import { EMPTY_RANGES, FAMILY_KEYS, type Ranges, rangesEqual, rangesOverlap, unionRanges } from "../address/index.ts";
import type { Party, SegmentPoint } from "../network/index.ts";
import type { Aim } from "./aim.ts";
import { type Leg, sourcesOf } from "./atlas.ts";
import { flowsOf } from "./box.ts";
import {
  DESTINATION,
  DESTINATION_PORT,
  ICMP_CODE,
  ICMP_TYPE,
  PROTOCOL,
  SOURCE,
  SOURCE_PORT,
  TCP_FLAGS,
  UNIVERSES,
} from "./fields.ts";
import { type Flow, flowOf, framedBy, narrowed, setOf, without, withSet } from "./flow.ts";
import { framesTo } from "./frames.ts";
import type { Entering } from "./ground.ts";
import { ofAllKinds } from "./kinds.ts";
import type { LinkReach, LinkStop, Touch } from "./link.ts";
import { byTags } from "./order.ts";
import { FRESH, namesAt, type Passage, passageAt, type Sent } from "./passage.ts";
import { byCodePoint } from "./places.ts";
import type { Question } from "./question.ts";
import { segmentsOf } from "./reaches.ts";
import type { Relevant } from "./relevant.ts";
import { handed } from "./step-send.ts";
import { canQuote, familyOf } from "./tracking.ts";
import { stepped } from "./trail.ts";
import type { Walk } from "./walk.ts";

/** Packets of one kind of purpose. */
export type Supply = {
  /** The packets. */
  readonly flow: Flow;
  /** Somebody asked about them. */
  readonly counts: boolean;
  /** They go to the target by their own destination. */
  readonly aimed: boolean;
};

/** Packets to walk, those that were asked about first; all kinds in one where that is what is asked. */
export function suppliesOf(question: Question, relevant: Relevant, isStateful: boolean): readonly Supply[] {
  const isAlike = (a: Supply, b: Supply): boolean => a.counts === b.counts && a.aimed === b.aimed;
  return ofAllKinds(byKind(question, relevant, isStateful), isAlike);
}

function byKind(question: Question, relevant: Relevant, isStateful: boolean): readonly Supply[] {
  const asked = flowsOf(question.packets);
  const direct = asked.flatMap((flow) => to(flow, relevant.direct, { counts: true, aimed: true }));
  if (!isStateful) return direct;
  const turned = asked.flatMap((flow) => {
    const others = without(flow, DESTINATION, relevant.direct);
    return others === undefined ? [] : to(others, relevant.destinations, { counts: true, aimed: false });
  });
  return [...direct, ...turned, ...beginners(asked, relevant)];
}

function to(flow: Flow, destinations: Ranges, purpose: Omit<Supply, "flow">): readonly Supply[] {
  const piece = narrowed(flow, DESTINATION, destinations);
  return piece === undefined ? [] : [{ flow: piece, ...purpose }];
}

// -- packets that only begin connections -----------------------------------------------------------------------------

/** Packets that begin the connections which those asked about could claim to belong to. */
function beginners(asked: readonly Flow[], { sources, destinations }: Relevant): readonly Supply[] {
  const purpose = { counts: false, aimed: false };
  const isAny = asked.some(canQuote);
  const hidden = asked.flatMap((flow) => (isAny ? anyFrom(flow) : [answeredBy(flow)]));
  const plain = asked.flatMap((flow) => (isAny ? anyFrom(flow) : [beginning(flow)]));
  return [
    ...distinct(hidden).flatMap((flow) => {
      const piece = narrowed(flow, SOURCE, sources);
      return piece === undefined ? [] : [{ flow: piece, ...purpose }];
    }),
    ...distinct(plain.filter((flow) => !asked.includes(flow))).flatMap((flow) => to(flow, destinations, purpose)),
  ];
}

function distinct(flows: readonly Flow[]): readonly Flow[] {
  const kept: Flow[] = [];
  for (const flow of flows) {
    if (!kept.some((known) => flow.sets.every((set, index) => rangesEqual(set, setOf(known, index))))) kept.push(flow);
  }
  return kept;
}

/** Any packet of the same sources. */
function anyFrom(flow: Flow): readonly Flow[] {
  const family = familyOf(flow);
  return UNIVERSES.flatMap((sets) => {
    const any = flowOf(sets);
    return familyOf(any) === family ? (narrowed(any, SOURCE, setOf(flow, SOURCE)) ?? []) : [];
  });
}

/** The same packets with whatever flags. */
function beginning(flow: Flow): Flow {
  return withSet(flow, TCP_FLAGS, fullOf(flow, TCP_FLAGS));
}

/** Packets that these could answer: ports and addresses turned round. */
function answeredBy(flow: Flow): Flow {
  const turns: readonly (readonly [number, number])[] = [
    [SOURCE_PORT, DESTINATION_PORT],
    [DESTINATION_PORT, SOURCE_PORT],
  ];
  let turned = beginning(flow);
  // Ports may be rewritten on the way: the ones here need not be those of the answer.
  for (const [field, other] of turns) turned = withSet(turned, field, fullOf(flow, other));
  for (const field of [ICMP_TYPE, ICMP_CODE]) turned = withSet(turned, field, fullOf(flow, field));
  return withSet(turned, DESTINATION, [FAMILY_KEYS[familyOf(flow)]]);
}

function fullOf(flow: Flow, field: number): Ranges {
  const family = familyOf(flow);
  const protocols = setOf(flow, PROTOCOL);
  const universe = UNIVERSES.find(
    (sets) => rangesOverlap(sets[PROTOCOL] ?? [], protocols) && familyOf(flowOf(sets)) === family,
  );
  return universe?.[field] ?? EMPTY_RANGES;
}

// -- from entrances ------------------------------------------------------------------------------------------------

/** Frames enter: they may be at the target already; stacks take them; some go no further. */
export function enterAll(
  walk: Walk,
  reach: LinkReach,
  asked: readonly Flow[],
  supplies: readonly Supply[],
): readonly Passage[] {
  walk.lookAt(reach);
  const there = arriveByLink(walk, reach, asked);
  for (const stop of reach.stops) if (!stop.idle && !isThere(there, stop)) endByLink(walk, stop, supplies);
  // What is walked first hides what comes the same way later: the smaller frames first (`order.ts`).
  const taking = reach.touches.filter((touch) => !isIdle(touch.leg, walk.ground.aim)).sort(byFrame);
  return taking.flatMap((touch) => enterBy(walk, touch, supplies, isThere(there, touch)));
}

/** Where nothing else is to be told: the first station there, or the first copy that found nobody. */
export function enterIdle(walk: Walk, reach: LinkReach, supplies: readonly Supply[]): readonly Passage[] {
  const [touch] = reach.touches;
  if (touch !== undefined) return enterBy(walk, touch, supplies, false);
  for (const stop of reach.stops) endByLink(walk, stop, supplies);
  return [];
}

function byFrame(a: Touch, b: Touch): number {
  return byTags(a.tags, b.tags) || byCodePoint(a.leg.interface.id, b.leg.interface.id);
}

type Framed = Pick<LinkStop, "sentAt" | "tags">;

function frameKey({ sentAt, tags }: Framed): string {
  return `${sentAt} ${tags.join(".")}`;
}

function beginningKey(framed: Framed): string {
  return `${frameKey(framed)} and more`;
}

function anyKey({ sentAt }: Pick<LinkStop, "sentAt">): string {
  return `${sentAt} any`;
}

/** Frames that are there: just these, or any that begin so. */
function isThere(there: ReadonlySet<string>, framed: Framed): boolean {
  if (there.size === 0) return false;
  const { sentAt, tags } = framed;
  const begins = [[], ...tags.map((_, index) => tags.slice(0, index + 1))];
  return (
    there.has(frameKey(framed)) ||
    there.has(anyKey(framed)) ||
    begins.some((each) => there.has(beginningKey({ sentAt, tags: each })))
  );
}

/** An address that no station has: a frame to it goes everywhere and is taken nowhere. */
const NOBODY = 0x0200000000fdn;

/** Frames of which the target's own segments are part; answers which frames those are, whatever their packets. */
function arriveByLink(walk: Walk, reach: LinkReach, asked: readonly Flow[]): ReadonlySet<string> {
  const { segments, homes, claimable } = walk.ground.aim;
  const there = new Set<string>();
  if (segments.size === 0 && homes.size === 0) return there;
  const addressed = homes.size === 0 ? [] : asked.flatMap((flow) => narrowed(flow, DESTINATION, claimable) ?? []);
  for (const point of reach.points) {
    for (const segment of segmentsOf(point, segments)) {
      const { tags } = putAt(walk, reach, point, segment, asked);
      there.add(frameKey({ sentAt: point.sentAt, tags }));
      if (point.inner) there.add(beginningKey({ sentAt: point.sentAt, tags }));
      // Where tags are ignored, frames with any are there.
      if (segment.vlan === undefined) there.add(anyKey(point));
    }
    const [home] = segmentsOf(point, homes);
    if (home !== undefined) putAt(walk, reach, point, home, addressed);
  }
  return there;
}

/** Packets are on a segment as soon as their frames enter. */
function putAt(
  walk: Walk,
  reach: LinkReach,
  point: LinkReach["points"][number],
  segment: SegmentPoint,
  flows: readonly Flow[],
): Sent {
  const tags = point.chosen && segment.vlan !== undefined ? [...point.taken, segment.vlan] : point.taken;
  const trail = point.trail ?? stepped(undefined, point.at, "enter", originAt(reach, point.at));
  const sent: Sent = { at: point.sentAt, tags, towards: NOBODY };
  const fate = { at: point.at, origin: trail.step.origin, end: "on-segment" } as const;
  for (const flow of flows) walk.arrive(beginningAt(flow, trail, sent, true, true), fate);
  return sent;
}

function originAt({ stops, touches }: LinkReach, at: string): LinkStop["origin"] {
  const origin = stops.find((stop) => stop.at === at)?.origin ?? touches[0]?.leg.interface.origin;
  if (origin === undefined) throw new Error(`frames begin at \`${at}\` without a reason`);
  return origin;
}

function beginningAt(flow: Flow, trail: Entering["trail"], sent: Sent, counts: boolean, aimed: boolean): Entering {
  return { flow, trail, sent, depth: 0, counts, aimed, arrived: false, ...FRESH };
}

function endByLink(
  walk: Walk,
  { at, reason, origin, trail, sentAt, tags }: LinkStop,
  supplies: readonly Supply[],
): void {
  for (const { flow, counts, aimed } of supplies) {
    const ending = beginningAt(flow, trail, { at: sentAt, tags, towards: NOBODY }, counts, aimed);
    walk.end(ending, { at, origin, end: "dropped", reason });
  }
}

/** A station on one link that sends nothing on and is not the target: nothing comes of what it takes. */
function isIdle(leg: Leg, aim: Aim): boolean {
  const { node } = leg;
  if (node.forwards || aim.upstreams.has(leg.interface.id)) return false;
  const isSingle = node.legs.every((other) => other === leg || !other.settled.up);
  return isSingle && !rangesOverlap(node.own, aim.addresses);
}

function enterBy(walk: Walk, touch: Touch, supplies: readonly Supply[], arrived: boolean): readonly Passage[] {
  const { leg, trail } = touch;
  return supplies.flatMap(({ flow, counts, aimed }) =>
    framesTo(walk, flow, touch).flatMap((framed) => {
      const entering = { ...beginningAt(framed.flow, trail, framed.sent, counts, aimed), arrived };
      return handed(walk, entering, leg).flatMap((each) => walk.enter(leg, each));
    }),
  );
}

// -- from senders --------------------------------------------------------------------------------------------------

/** Stacks begin packets, from their own addresses; connections of theirs count only where somebody can claim to belong to them. */
export function beginAll(
  walk: Walk,
  { senders, entrances }: Question,
  supplies: readonly Supply[],
): readonly Passage[] {
  const useful = entrances.length > 0 ? supplies : supplies.filter(({ counts, aimed }) => counts && aimed);
  return senders.flatMap((party) => beginAt(walk, party, useful));
}

function beginAt(walk: Walk, party: Party, supplies: readonly Supply[]): readonly Passage[] {
  const node = walk.ground.atlas.nodes.get(party.stack);
  if (node === undefined) throw new Error(`the description has no stack \`${party.stack}\``);
  walk.looked.add(party.stack);
  const own = node.legs.reduce(
    (keys, leg) => (party.interfaces.includes(leg.interface.id) ? unionRanges(keys, sourcesOf(leg)) : keys),
    EMPTY_RANGES,
  );
  const trail = stepped(undefined, party.stack, "enter", node.stack.origin);
  return supplies.flatMap(({ flow, counts, aimed }) => {
    const piece = narrowed(flow, SOURCE, own);
    if (piece === undefined) return [];
    const begun = walk.ground.looks.has("sourceHardware") ? framedBy(piece, -1n) : piece;
    const sent: Sent = { at: party.stack, tags: [] };
    const come = beginningAt({ ...begun, names: namesAt(undefined) }, trail, sent, counts, aimed);
    return [passageAt({ node, steps: node.stack.sent, next: 0, ingress: undefined }, come)];
  });
}
