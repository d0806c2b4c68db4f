/**
 * The step `route` over sets: to the stack itself, to groups it hears, on by the longest prefix, or nowhere. Equal hops
 * are all taken, each with its pick.
 */
import {
  addressKey,
  EMPTY_RANGES,
  isBroadcast,
  lastAddress,
  prefixOf,
  type Ranges,
  ranges,
  solicitedNode,
  unionRanges,
} from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Pick, Route, RouteAction } from "../network/index.ts";
import { choiceId, equalPathChoice } from "../settle/index.ts";
import type { Leg, Node } from "./atlas.ts";
import { DESTINATION, EGRESS, NO_NAME, SOURCE } from "./fields.ts";
import { type Flow, narrowed, valuesOf, withName, without } from "./flow.ts";
import { onward, type Passage } from "./passage.ts";
import { LINK_LOCAL, legsUp } from "./reaches.ts";
import { drop, refuse, type StepOf } from "./step-checks.ts";
import { cutBy } from "./stretches.ts";
import { familyOf } from "./tracking.ts";
import { stepped, type Trail } from "./trail.ts";
import { optional, type Walk } from "./walk.ts";

const V6 = 1n << 128n;
const LIMITED_BROADCAST: Ranges = [[0xffffffffn, 0xffffffffn]];
/** 224.0.0.0/4 and ff00::/8. */
const MULTICAST: Ranges = ranges([0xe0000000n, 0xefffffffn], [V6 | (0xffn << 120n), V6 | ((1n << 128n) - 1n)]);
/** Groups that every stack hears: all hosts, all nodes, all routers (RFC 1112 section 4, from memory; RFC 4291 section 2.7.1). */
const EVERYONE: Ranges = ranges([0xe0000001n, 0xe0000001n], [V6 | (0xff02n << 112n) | 1n, V6 | (0xff02n << 112n) | 2n]);

/** Broadcast addresses that are heard on some legs: those of their networks, and the limited one. */
function broadcastsOf(legs: readonly Leg[]): Ranges {
  const lasts = legs.flatMap((leg) =>
    leg.settled.addresses.flatMap((address) => {
      const prefix = prefixOf(address, address.prefixLength);
      const last = lastAddress(prefix);
      return isBroadcast(last, prefix) ? [[addressKey(last), addressKey(last)] as const] : [];
    }),
  );
  return unionRanges(ranges(...lasts), LIMITED_BROADCAST);
}

/** Groups that a stack hears on a leg: broadcasts, and the multicast groups that it joined. */
function heardOn(legs: readonly Leg[]): Ranges {
  const joined = legs.flatMap((leg) =>
    leg.settled.addresses.flatMap((address) => {
      if (address.family === 4) return [];
      const key = addressKey(solicitedNode(address));
      return [[key, key] as const];
    }),
  );
  return unionRanges(ranges(...joined), EVERYONE);
}

type Groups = { readonly all: Ranges; readonly broadcasts: Ranges };
const groups = new WeakMap<Node, Groups>();

/** Addresses that stand for many stations at a stack. */
export function groupsOf(node: Node): Groups {
  const known = groups.get(node);
  if (known !== undefined) return known;
  const broadcasts = broadcastsOf(node.legs);
  const found = { broadcasts, all: unionRanges(broadcasts, MULTICAST) };
  groups.set(node, found);
  return found;
}

/** Destinations that a stack takes as its own, whichever leg they come in by. */
export function takenAt(node: Node): Ranges {
  return unionRanges(unionRanges(node.own, groupsOf(node).broadcasts), heardOn(node.legs));
}

/** Decides where packets go. */
export function takeRoute(walk: Walk, passage: Passage, step: StepOf<"route">): readonly Passage[] {
  const isReceived = passage.steps === passage.node.stack.received;
  return isReceived ? routeReceived(walk, passage, step) : reroute(walk, passage, step.origin);
}

/** Splits off the packets to some destinations. */
function split(flow: Flow | undefined, within: Ranges): readonly [inside: Flow | undefined, outside: Flow | undefined] {
  if (flow === undefined || within.length === 0) return [undefined, flow];
  return [narrowed(flow, DESTINATION, within), without(flow, DESTINATION, within)];
}

// -- received ------------------------------------------------------------------------------------------------------

function routeReceived(walk: Walk, passage: Passage, { origin }: StepOf<"route">): readonly Passage[] {
  const { node, ingress, flow } = passage;
  const legs = ingress === undefined ? node.legs : [ingress];
  const near = legs.reduce((keys, leg) => unionRanges(keys, leg.own), EMPTY_RANGES);
  const { all, broadcasts } = groupsOf(node);
  const [toLink, rest] = split(flow, LINK_LOCAL);
  const [toUs, toOthers] = split(toLink, near);
  const [toGroups, single] = split(rest, all);
  const strong = node.stack.answersFor === "this-leg";
  const [heard, unheard] = split(toGroups, unionRanges(strong ? broadcastsOf(legs) : broadcasts, heardOn(legs)));
  const [far, strange] = split(unheard, broadcasts);
  const [own, through] = split(single, node.own);
  const [here, elsewhere] = strong ? split(own, near) : [own, undefined];
  drop(walk, passage, toOthers, "not-forwardable", origin);
  drop(walk, passage, far, "wrong-leg", origin);
  drop(walk, passage, strange, "not-forwardable", origin);
  drop(walk, passage, elsewhere, "wrong-leg", origin);
  const taken = [here, toUs, heard].flatMap((piece) => (piece === undefined ? [] : [toItself(passage, piece, origin)]));
  return [...taken, ...(through === undefined ? [] : routeOnward(walk, { ...passage, flow: through }, origin))];
}

function toItself(passage: Passage, flow: Flow, origin: Origin): Passage {
  const { node } = passage;
  const trail = stepped(passage.trail, node.stack.id, "route", origin, "to itself");
  return { ...passage, flow, trail, steps: node.stack.local, next: 0 };
}

/** Packets from link-local addresses are never sent on (RFC 4291 section 2.5.6). */
function routeOnward(walk: Walk, passage: Passage, origin: Origin): readonly Passage[] {
  const { node } = passage;
  drop(walk, passage, narrowed(passage.flow, SOURCE, LINK_LOCAL), "not-forwardable", origin);
  const flow = without(passage.flow, SOURCE, LINK_LOCAL);
  if (flow === undefined) return [];
  return followRoutes(walk, { ...passage, flow }, origin).map((piece): Passage => {
    const steps = piece.egress === undefined ? node.stack.local : node.stack.onward;
    return { ...piece, steps, next: 0 };
  });
}

// -- sent ----------------------------------------------------------------------------------------------------------

/** Decides where packets go that the stack sends itself. */
export function reroute(walk: Walk, before: Passage, origin: Origin): readonly Passage[] {
  const { egress: _egress, via: _via, heirs: _heirs, turns: _turns, ...passage } = before;
  const { node, flow } = passage;
  const [toGroups, single] = split(flow, groupsOf(node).all);
  const [own, rest] = split(single, node.own);
  const [toLink, routed] = split(rest, LINK_LOCAL);
  const everywhere = legsUp(node).flatMap((leg) =>
    [toGroups, leg.interface.speaks6 ? toLink : undefined].flatMap((piece) =>
      piece === undefined ? [] : [onLink(passage, piece, leg, origin)],
    ),
  );
  const turned = own === undefined ? [] : [turning(passage, own, origin)];
  const followed = routed === undefined ? [] : followRoutes(walk, { ...passage, flow: routed }, origin);
  return [
    ...turned,
    ...everywhere,
    ...followed.map((piece) => (piece.egress === undefined ? turning(piece, piece.flow, origin) : piece)),
  ].map((piece) => onward(piece));
}

/** To one of its own addresses: comes in again. */
function turning(passage: Passage, flow: Flow, origin: Origin): Passage {
  const trail = stepped(passage.trail, passage.node.stack.id, "route", origin, "to itself");
  return { ...passage, flow: withName(flow, EGRESS, [NO_NAME]), trail, turns: true };
}

function onLink(passage: Passage, flow: Flow, leg: Leg, origin: Origin): Passage {
  const { id } = leg.interface;
  const trail = stepped(passage.trail, passage.node.stack.id, "route", origin, id);
  return { ...passage, flow: withName(flow, EGRESS, [id]), trail, egress: leg };
}

// -- by route ------------------------------------------------------------------------------------------------------

/** Packets by the route that decides; without an egress where the stack takes them itself. */
function followRoutes(walk: Walk, passage: Passage, origin: Origin): readonly Passage[] {
  const { node, flow } = passage;
  const pieces = cutBy(node.stretches, valuesOf(flow, DESTINATION));
  walk.ground.meter.take(pieces.length);
  return pieces.flatMap(({ value: route, numbers }) => {
    const piece = narrowed(flow, DESTINATION, numbers);
    if (piece === undefined) return [];
    const here = { ...passage, flow: piece };
    if (route !== undefined) return follow(walk, here, route.action, route.origin, route);
    if (node.stack.answersFor === "everywhere") return [selfRouted(here, origin)];
    return follow(walk, here, node.otherwise.action, node.otherwise.origin, undefined);
  });
}

function selfRouted(passage: Passage, origin: Origin): Passage {
  return { ...passage, trail: stepped(passage.trail, passage.node.stack.id, "route", origin, "to itself") };
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
      return action.hops.map((hop, index) => {
        const pick = route === undefined ? undefined : pickOf(route, index);
        const egress = passage.node.legs.find((leg) => leg.interface.id === hop.egress);
        if (egress === undefined) throw new Error(`\`${passage.node.stack.id}\` has no interface \`${hop.egress}\``);
        const via = hop.via === undefined ? undefined : keyOf(hop.via, familyOf(passage.flow));
        return { ...hopping(passage, egress, origin, pick), ...optional({ via }) };
      });
  }
}

function refuseRoute(
  walk: Walk,
  passage: Passage,
  action: Extract<RouteAction, { readonly do: "refuse" }>,
  origin: Origin,
): readonly Passage[] {
  const trail = stepped(passage.trail, passage.node.stack.id, "route", origin, "nowhere");
  refuse(walk, { ...passage, trail }, passage.flow, { reason: action.reason, origin, with: action.with });
  return [];
}

function hopping(passage: Passage, egress: Leg, origin: Origin, pick: Pick | undefined): Passage {
  const { id } = egress.interface;
  const trail: Trail = stepped(passage.trail, passage.node.stack.id, "route", origin, id, pick);
  return { ...passage, flow: withName(passage.flow, EGRESS, [id]), trail, egress };
}

/** The pick that takes one of several equal hops. */
function pickOf(route: Route, index: number): Pick | undefined {
  const option = equalPathChoice(route)?.options[index];
  return option === undefined ? undefined : { choice: choiceId("equal-path", route.id), option };
}

function keyOf(value: bigint, family: 4 | 6): bigint {
  return addressKey({ family, value });
}
