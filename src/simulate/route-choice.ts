/**
 * Where a stack sends an address: to itself, to a group it hears, over a hop, or nowhere. Own addresses come first
 * (kernel fact 4), then the longest prefix; equal hops are a choice.
 */
import {
  type Address,
  addressKey,
  isLinkLocal,
  isLoopback,
  isMulticast,
  rangesContain,
  solicitedNode,
} from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { DropReason, Refusal, Route, RouteAction } from "../network/index.ts";
import { equalPathChoice } from "../settle/index.ts";
import type { PickBook } from "./picks.ts";
import type { InterfacePlan, StackPlan } from "./plan.ts";
import { lookUpRoute } from "./route-table.ts";

/** Where to. */
export type Way =
  /** To the stack itself. */
  | {
      readonly to: "own";
      /** The route that decides. */
      readonly origin?: Origin;
    }
  /** To a group: everyone on a link, or those who joined. */
  | {
      readonly to: "group";
      /** The interface it leaves by. */
      readonly egress: InterfacePlan | undefined;
    }
  /** Over a link; `nextHop` absent: the destination itself is on it. */
  | {
      readonly to: "hop";
      /** The interface it leaves by. */
      readonly egress: InterfacePlan;
      /** The router. */
      readonly nextHop?: Address;
      /** The route that decides. */
      readonly origin: Origin;
    }
  | {
      readonly to: "nowhere";
      /** Why. */
      readonly reason: DropReason;
      /** The answer. */
      readonly with: Refusal;
      /** The route that decides. */
      readonly origin: Origin;
    };

const LIMITED_BROADCAST = 0xffffffffn;

/** Whether an address stands for many stations: multicast, or a broadcast address that the stack knows. */
export function isGroup(stack: StackPlan, address: Address): boolean {
  if (isMulticast(address)) return true;
  return address.family === 4 && (address.value === LIMITED_BROADCAST || stack.broadcasts.has(address.value));
}

/** Whether a stack takes packets to a group that come in by an interface. */
export function hearsGroup(stack: StackPlan, leg: InterfacePlan | undefined, address: Address): boolean {
  if (!isMulticast(address)) return true;
  const legs = leg === undefined ? stack.interfaces : [leg];
  return legs.some((each) => hasJoined(each, address));
}

function hasJoined({ interface: { hears }, addresses, anycast }: InterfacePlan, address: Address): boolean {
  if (rangesContain(hears, addressKey(address))) return true;
  if (address.family === 4) return false;
  return [...addresses, ...anycast].some((own) => own.family === 6 && solicitedNode(own).value === address.value);
}

/** The way of a packet that a stack sends itself: to its loopback addresses, too, as long as it is bound to no interface. */
export function wayOut(
  stack: StackPlan,
  destination: Address,
  picks: PickBook,
  bound: InterfacePlan | undefined,
  near: InterfacePlan | undefined,
): Way {
  if (isLoopback(destination) && bound === undefined) return { to: "own" };
  return wayTo(stack, destination, picks, bound, near);
}

/**
 * The way to an address from a stack. `bound`: leaves by this interface whatever the routes say. `near`: of IPv6 routes of one
 * prefix and metric, and of the hops of one, those by this interface are preferred.
 */
export function wayTo(
  stack: StackPlan,
  destination: Address,
  picks: PickBook,
  bound?: InterfacePlan,
  near?: InterfacePlan,
): Way {
  if (isGroup(stack, destination)) return { to: "group", egress: groupEgress(stack, destination, picks, bound) };
  if (isOwn(stack, destination, bound)) return { to: "own" };
  if (destination.family === 6 && isLinkLocal(destination)) return onLink(stack, bound ?? firstSpeaking(stack));
  const route = nearRoute(stack, destination, near) ?? lookUpRoute(stack.routes, destination, bound?.interface.id);
  if (route !== undefined) return follow(stack, route.action, route, picks, bound);
  // Whoever is bound takes an address of IPv4 to be on the link, not one of IPv6 (seen on Linux 6.18).
  if (bound !== undefined && destination.family === 4) return onLink(stack, bound);
  if (bound === undefined && stack.stack.answersFor === "everywhere") return { to: "own" };
  return follow(stack, stack.otherwise.action, stack.otherwise, picks, undefined);
}

/** On a link an address of another one is not the stack's own, but is looked for there (RFC 4007 section 5; seen on Linux 6.18). */
function isOwn(stack: StackPlan, destination: Address, bound: InterfacePlan | undefined): boolean {
  const isOfLink = bound !== undefined && destination.family === 6 && isLinkLocal(destination);
  return (isOfLink ? bound : stack).own.has(addressKey(destination));
}

/** The route by an interface that is as good as the best one; of its hops only those by that interface. */
function nearRoute(stack: StackPlan, destination: Address, near: InterfacePlan | undefined): Route | undefined {
  if (near === undefined || destination.family === 4) return undefined;
  const best = lookUpRoute(stack.routes, destination);
  const own = lookUpRoute(stack.routes, destination, near.interface.id);
  if (best === undefined || own?.action.do !== "forward") return undefined;
  if (own.length !== best.length || own.metric !== best.metric) return undefined;
  const hops = own.action.hops.filter(({ egress }) => egress === near.interface.id);
  return { ...own, action: { do: "forward", hops } };
}

/** Directly onto a link, without a route. */
export function onLink(stack: StackPlan, egress: InterfacePlan | undefined): Way {
  if (egress !== undefined) return { to: "hop", egress, origin: egress.interface.origin };
  return follow(stack, stack.otherwise.action, stack.otherwise, undefined, undefined);
}

function firstSpeaking(stack: StackPlan): InterfacePlan | undefined {
  return stack.interfaces.find((leg) => leg.up && leg.interface.speaks6);
}

function follow(
  stack: StackPlan,
  action: RouteAction,
  from: Route | StackPlan["otherwise"],
  picks: PickBook | undefined,
  bound: InterfacePlan | undefined,
): Way {
  const { origin } = from;
  switch (action.do) {
    case "local":
      return { to: "own", origin };
    case "refuse":
      return { to: "nowhere", reason: action.reason, with: action.with, origin };
    case "forward": {
      const hop = hopOf(action, from, picks, bound);
      const egress = stack.byId.get(hop.egress);
      if (egress === undefined) throw new Error(`\`${stack.stack.id}\` has no interface \`${hop.egress}\``);
      if (hop.via === undefined) return { to: "hop", egress, origin };
      return { to: "hop", egress, nextHop: { family: "family" in from ? from.family : 4, value: hop.via }, origin };
    }
  }
}

type Forward = Extract<RouteAction, { readonly do: "forward" }>;

function hopOf(
  { hops }: Forward,
  from: Route | StackPlan["otherwise"],
  picks: PickBook | undefined,
  bound: InterfacePlan | undefined,
): Forward["hops"][number] {
  const leaving = bound === undefined ? hops : hops.filter(({ egress }) => egress === bound.interface.id);
  const [first] = leaving;
  if (first === undefined) throw new Error("a route without a hop");
  const choice = "family" in from && bound === undefined ? equalPathChoice(from) : undefined;
  if (choice === undefined || picks === undefined || !("family" in from)) return first;
  const [usual] = choice.options;
  const option = picks.take("equal-path", from.id, choice.options, usual ?? "");
  return hops[choice.options.indexOf(option)] ?? first;
}

/** Out of which interface a packet to a group goes that the stack sends itself. */
function groupEgress(
  stack: StackPlan,
  destination: Address,
  picks: PickBook,
  bound: InterfacePlan | undefined,
): InterfacePlan | undefined {
  if (bound !== undefined) return bound;
  const route = lookUpRoute(stack.routes, destination);
  const way = route && follow(stack, route.action, route, picks, undefined);
  if (way?.to === "hop") return way.egress;
  return stack.interfaces.find(({ up }) => up);
}
