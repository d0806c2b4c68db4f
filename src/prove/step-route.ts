/**
 * The step `route` over sets: to the stack itself, to groups it hears, on by the longest prefix, or nowhere. Equal hops
 * are all taken, each with its pick.
 */
import {
  addressKey,
  EMPTY_RANGES,
  formatAddress,
  isMulticastHardware,
  keyAddress,
  type Ranges,
  rangesOverlap,
  unionRanges,
} from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Pick, Route, RouteAction, Step } from "../network/index.ts";
import { choiceId, equalPathChoice } from "../settle/index.ts";
import type { Leg, Node } from "./atlas.ts";
import { DESTINATION, DESTINATION_HARDWARE, EGRESS, NO_NAME, SOURCE } from "./fields.ts";
import { type Flow, narrowed, sightOf, valuesOf, withName, without } from "./flow.ts";
import { groupsOf, groupsOn } from "./groups.ts";
import { having, onward, type Passage, withFlow } from "./passage.ts";
import { LINK_LOCAL, legsUp } from "./reaches.ts";
import { leadsTo } from "./relevant.ts";
import { drop, refuse, type StepOf } from "./step-checks.ts";
import { cutBy } from "./stretches.ts";
import { familyOf } from "./tracking.ts";
import { areOne, isSameFlow, type LedByRoutes, ledBy, stepped, type Trail } from "./trail.ts";
import type { Walk } from "./walk.ts";

/** Decides where packets go. */
export function takeRoute(walk: Walk, passage: Passage, step: StepOf<"route">): readonly Passage[] {
  const isReceived = passage.steps === passage.node.stack.received;
  return isReceived ? routeReceived(walk, passage, step) : reroute(walk, passage, step.origin);
}

/** 127.0.0.0/8 and ::1, as keys (RFC 1122 section 3.2.1.3 g, RFC 4291 section 2.5.3). */
const LOOPBACK: Ranges = [
  [0x7f000000n, 0x7fffffffn],
  [(1n << 128n) | 1n, (1n << 128n) | 1n],
];

/** Splits off the packets to some destinations. */
function split(flow: Flow | undefined, within: Ranges): readonly [inside: Flow | undefined, outside: Flow | undefined] {
  if (flow === undefined || within.length === 0) return [undefined, flow];
  return [narrowed(flow, DESTINATION, within), without(flow, DESTINATION, within)];
}

// -- received ------------------------------------------------------------------------------------------------------

function routeReceived(walk: Walk, passage: Passage, step: StepOf<"route">): readonly Passage[] {
  const { counts, arrived, doubt } = passage;
  // Where they end is told, and how they got so far.
  if (counts && !arrived && doubt === undefined) return routeEach(walk, passage, step);
  return believed(walk, passage).flatMap((each) => routeEach(walk, each, step));
}

/**
 * Packets whose source is believed wherever they are routed to, by the checks that come first of all after the route: asked once
 * before it, since each of many routes would ask.
 */
function believed(walk: Walk, passage: Passage): readonly Passage[] {
  const { local, onward } = passage.node.stack;
  let pieces: readonly Passage[] = [passage];
  for (let next = 0; isSourceCheck(onward[next]) && onward[next] === local[next]; next++)
    pieces = pieces.flatMap((piece) => walk.take(walk, having(piece, { steps: onward, next })));
  return pieces.map(({ flow }) => withFlow(passage, flow));
}

function isSourceCheck(step: Step | undefined): boolean {
  return step?.op === "own-source" || step?.op === "reverse-path";
}

function routeEach(walk: Walk, passage: Passage, { origin }: StepOf<"route">): readonly Passage[] {
  const { node, ingress, flow } = passage;
  const { near, heard } = hearing(node, ingress);
  const [toLink, wide] = split(flow, LINK_LOCAL);
  const [toUs, toOthers] = split(toLink, near);
  const [toGroups, single] = split(wide, groupsOf(node).all);
  const [toOurs, unheard] = split(toGroups, heard);
  const [far, strange] = split(unheard, groupsOf(node).broadcasts);
  // From outside a loopback address is none of ours.
  const ours = ingress === undefined ? unionRanges(node.own, LOOPBACK) : node.own;
  const [own, through] = split(single, ours);
  const [here, elsewhere] = node.stack.answersFor === "this-leg" ? split(own, near) : [own, undefined];
  drop(walk, passage, far, "wrong-leg", origin);
  drop(walk, passage, strange, "not-forwardable", origin);
  drop(walk, passage, elsewhere, "wrong-leg", origin);
  const taken = [here, toUs, toOurs].flatMap((piece) =>
    piece === undefined ? [] : [toItself(passage, piece, origin)],
  );
  return [
    ...taken,
    ...handedBack(walk, passage, toOthers, origin),
    ...(through === undefined ? [] : routeOnward(walk, withFlow(passage, through), origin)),
  ];
}

/** Addresses of the leg that packets came in by, and groups heard there; of all legs for what turned round. */
function hearing(node: Node, ingress: Leg | undefined): { readonly near: Ranges; readonly heard: Ranges } {
  if (ingress !== undefined) return { near: ingress.own, heard: groupsOn(ingress).heard };
  const heard = node.legs.reduce((groups, leg) => unionRanges(groups, groupsOn(leg).heard), EMPTY_RANGES);
  return { near: unionRanges(node.own, LOOPBACK), heard };
}

function toItself(passage: Passage, flow: Flow, origin: Origin): Passage {
  const { node } = passage;
  const trail = stepped(passage.trail, node.stack.id, "route", origin, "to itself");
  return having(passage, { flow, trail, steps: node.stack.local, next: 0 });
}

/**
 * Somebody else's address of a link is looked for on that link again (seen on Linux 6.18; RFC 4291 section 2.5.6 forbids other
 * links only).
 */
function handedBack(walk: Walk, passage: Passage, flow: Flow | undefined, origin: Origin): readonly Passage[] {
  const { ingress, node } = passage;
  if (flow === undefined) return [];
  if (ingress === undefined || isGrouped(flow)) {
    drop(walk, passage, flow, "not-forwardable", origin);
    return [];
  }
  const { sent } = passage;
  return [{ ...onLink(passage, flow, ingress, origin), sent, steps: node.stack.onward, next: 0 }];
}

/** What came in a frame for a group is never sent on (RFC 1812 section 5.3.4). */
function routeOnward(walk: Walk, passage: Passage, origin: Origin): readonly Passage[] {
  const { node } = passage;
  if (isGrouped(passage.flow)) {
    drop(walk, passage, passage.flow, "not-forwardable", origin);
    return [];
  }
  return followRoutes(walk, passage, origin).map((piece): Passage => {
    const steps = piece.egress === undefined ? node.stack.local : node.stack.onward;
    return having(piece, { steps, next: 0 });
  });
}

/** Whether packets came, or go, in frames to a group. */
export function isGrouped(flow: Flow): boolean {
  return valuesOf(flow, DESTINATION_HARDWARE).every(([low, high]) => low === high && isMulticastHardware(low));
}

// -- sent ----------------------------------------------------------------------------------------------------------

/** Decides where packets go that the stack sends itself. */
export function reroute(walk: Walk, before: Passage, origin: Origin): readonly Passage[] {
  const passage = having(before, { egress: undefined, via: undefined, heirs: undefined, turns: undefined });
  const { node, flow } = passage;
  const [toGroups, single] = split(flow, groupsOf(node).all);
  const [own, rest] = split(single, unionRanges(node.own, LOOPBACK));
  const [toLink] = split(single, LINK_LOCAL);
  const [, routed] = split(rest, LINK_LOCAL);
  const bound = legsUp(node)
    .filter((leg) => mattersBy(walk, leg))
    .flatMap((leg) =>
      [
        toGroups && narrowed(toGroups, DESTINATION, groupsOn(leg).spoken),
        // An address of another link is looked for on this one like anybody's.
        leg.interface.speaks6 ? split(toLink, leg.own)[1] : undefined,
      ].flatMap((piece) => (piece === undefined ? [] : [onLink(passage, piece, leg, origin)])),
    );
  const turned = own === undefined ? [] : [turning(passage, own, origin)];
  const followed = routed === undefined ? [] : followRoutes(walk, withFlow(passage, routed), origin);
  return [
    ...turned,
    ...bound,
    ...followed.map((piece) => (piece.egress === undefined ? turning(piece, piece.flow, origin) : piece)),
  ].map((piece) => onward(piece));
}

/** To one of its own addresses: comes in again. */
function turning(passage: Passage, flow: Flow, origin: Origin): Passage {
  const trail = stepped(passage.trail, passage.node.stack.id, "route", origin, "to itself");
  return having(passage, { flow: withName(flow, EGRESS, [NO_NAME]), trail, turns: true });
}

/** Whether packets that stay on the link of an interface can be for the target. */
function mattersBy(walk: Walk, leg: Leg): boolean {
  walk.ground.notes.link([leg.interface.id]);
  const { aim, reaches } = walk.ground;
  if (leadsTo(leg, aim, reaches)) return true;
  return reaches.of(leg).touches.some((touch) => rangesOverlap(touch.leg.node.own, aim.addresses));
}

function onLink(passage: Passage, flow: Flow, leg: Leg, origin: Origin): Passage {
  const { id } = leg.interface;
  const trail = stepped(passage.trail, passage.node.stack.id, "route", origin, id);
  return having(passage, {
    flow: withName(flow, EGRESS, [id]),
    trail,
    egress: leg,
    sent: { ...passage.sent, egress: id },
  });
}

// -- by route ------------------------------------------------------------------------------------------------------

/** Packets by the route that decides; without an egress where the stack takes them itself. */
function followRoutes(walk: Walk, passage: Passage, origin: Origin): readonly Passage[] {
  const { node, flow } = passage;
  const destinations = valuesOf(flow, DESTINATION);
  walk.ground.notes.routes(node.routes, destinations);
  const pieces = cutBy(node.ways, destinations);
  walk.ground.meter.take(pieces.length);
  return pieces.flatMap(({ value: route, numbers }) => {
    const piece = narrowed(flow, DESTINATION, numbers);
    if (piece === undefined) return [];
    const here = withFlow(passage, piece);
    if (route !== undefined) return follow(walk, here, route.action, route.origin, route);
    if (node.stack.answersFor === "everywhere") return [selfRouted(here, origin)];
    return follow(walk, here, node.otherwise.action, node.otherwise.origin, undefined);
  });
}

function selfRouted(passage: Passage, origin: Origin): Passage {
  return having(passage, { trail: stepped(passage.trail, passage.node.stack.id, "route", origin, "to itself") });
}

function follow(
  walk: Walk,
  passage: Passage,
  action: RouteAction,
  origin: Origin,
  route: Route | undefined,
): readonly Passage[] {
  switch (action.do) {
    case "local":
      return [selfRouted(passage, origin)];
    case "refuse":
      return refuseRoute(walk, passage, action, origin);
    case "forward":
      return action.hops.flatMap((hop, index) => {
        const pick = route === undefined ? undefined : pickOf(route, index);
        const again = pick === undefined ? passage : takingAgain(passage, pick, origin);
        if (again === undefined) return [];
        const egress = passage.node.legs.find((leg) => leg.interface.id === hop.egress);
        if (egress === undefined) throw new Error(`\`${passage.node.stack.id}\` has no interface \`${hop.egress}\``);
        const via = hop.via === undefined ? undefined : keyOf(hop.via, familyOf(passage.flow));
        return [hopping(again, egress, { origin, pick, via })];
      });
  }
}

/**
 * Packets that were here before have taken one of several equal hops already, and take it again. With other addresses they may
 * be sent another way, which one nobody knows; undefined: this is not their hop.
 */
function takingAgain(passage: Passage, pick: Pick, origin: Origin): Passage | undefined {
  const { trail, node } = passage;
  if (areOne(trail.picks, [pick])) return passage;
  if (isSameFlow(trail, routesHere(passage))) return undefined;
  const note = "which of several equal hops packets take again once their addresses were rewritten";
  return having(passage, { doubt: passage.doubt ?? { note, origin, at: node.stack.id } });
}

function routesHere({ node, flow }: Passage): LedByRoutes {
  const [source, destination] = [sightOf(flow.view, SOURCE), sightOf(flow.view, DESTINATION)];
  return { by: "routes", stretches: node.stretches, source, destination };
}

function refuseRoute(
  walk: Walk,
  passage: Passage,
  action: Extract<RouteAction, { readonly do: "refuse" }>,
  origin: Origin,
): readonly Passage[] {
  const trail = stepped(passage.trail, passage.node.stack.id, "route", origin, "nowhere");
  refuse(walk, having(passage, { trail }), passage.flow, { reason: action.reason, origin, with: action.with });
  return [];
}

type Hop = { readonly origin: Origin; readonly pick?: Pick | undefined; readonly via?: bigint | undefined };

function hopping(passage: Passage, egress: Leg, { origin, pick, via }: Hop): Passage {
  const { id } = egress.interface;
  const { node, flow } = passage;
  const detail = via === undefined ? id : `${id} via ${formatAddress(keyAddress(via))}`;
  const routed: Trail = stepped(passage.trail, node.stack.id, "route", origin, detail, pick);
  const trail = ledBy(routed, routesHere(passage));
  return having(passage, { flow: withName(flow, EGRESS, [id]), trail, egress, via });
}

/** The pick that takes one of several equal hops. */
function pickOf(route: Route, index: number): Pick | undefined {
  const option = equalPathChoice(route)?.options[index];
  return option === undefined ? undefined : { choice: choiceId("equal-path", route.id), option };
}

function keyOf(value: bigint, family: 4 | 6): bigint {
  return addressKey({ family, value });
}
