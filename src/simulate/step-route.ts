/**
 * The step `route`: to the stack itself, or on by a route, or an end. Group addresses, the leg of a strong host and
 * link-local addresses are decided here too.
 */
import {
  addressKey,
  formatAddress,
  isLinkLocal,
  isLoopback,
  isMulticast,
  lastAddress,
  prefixOf,
  single,
} from "../address/index.ts";
import { NO_NOTES } from "../network/index.ts";
import { isLinkScope } from "./packets.ts";
import { note, type StepResult } from "./passage.ts";
import { hearsGroup, onLink, type Way, wayOut, wayTo } from "./route-choice.ts";
import type { Passage, StepOf, World } from "./world.ts";

/** Decides where a packet goes. */
export function stepRoute(world: World, passage: Passage, step: StepOf<"route">): StepResult {
  const isFromOutside = passage.begun === undefined || passage.isTurned;
  return isFromOutside ? routeReceived(world, passage, step) : routeSent(world, passage, step);
}

function routeReceived(world: World, passage: Passage, step: StepOf<"route">): StepResult {
  const { packet, stack, ingress } = passage;
  const { destination } = packet;
  const { origin } = step;
  if (destination.family === 6 && isLinkLocal(destination)) {
    const isHere =
      (ingress ?? passage.boundEgress)?.own.has(addressKey(destination)) ?? stack.own.has(addressKey(destination));
    return isHere ? toItself(passage, step) : handBack(passage, step);
  }
  // From outside it is no address at all (RFC 1122 section 3.2.1.3 g).
  if (ingress === undefined && isLoopback(destination)) return toItself(passage, step);
  const way = wayTo(stack, destination, world.picks);
  noteRoutes(world, passage, way);
  if (way.to === "group") {
    if (isFarBroadcast(passage)) return { do: "drop", reason: "wrong-leg", origin };
    if (hearsGroup(stack, ingress, destination)) return toItself(passage, step);
    return { do: "drop", reason: "not-forwardable", origin };
  }
  if (way.to === "own")
    return isWrongLeg(passage) ? { do: "drop", reason: "wrong-leg", origin } : toItself(passage, step);
  // RFC 1812 section 5.3.4; the kernel drops transit that came in a frame for a group too.
  if (passage.isGroupFrame) return { do: "drop", reason: "not-forwardable", origin };
  return take(passage, way) ?? { do: "turn", to: "onward" };
}

/** Somebody else's address of the link is looked for on that link again (seen on Linux 6.18; RFC 4291 section 2.5.6 forbids other links only). */
function handBack(passage: Passage, { origin }: StepOf<"route">): StepResult {
  const { ingress: egress, isGroupFrame } = passage;
  if (egress === undefined || isGroupFrame) return { do: "drop", reason: "not-forwardable", origin };
  return take(passage, { to: "hop", egress, origin }) ?? { do: "turn", to: "onward" };
}

/** Own addresses and groups are no matter of routes. */
function noteRoutes({ notes }: World, { stack, packet }: Passage, { to }: Way): void {
  if (notes !== NO_NOTES && to !== "own" && to !== "group")
    notes.routes(stack.routes, single(addressKey(packet.destination)));
}

function toItself(passage: Passage, step: StepOf<"route">): StepResult {
  passage.isOwn = true;
  passage.isRouted = true;
  note(passage, "route", step.origin, "to itself");
  return { do: "turn", to: "local" };
}

/** A strong host takes only the leg's own addresses. */
function isWrongLeg({ stack, ingress, packet }: Passage): boolean {
  if (stack.stack.answersFor !== "this-leg" || ingress === undefined) return false;
  return !ingress.own.has(addressKey(packet.destination));
}

/** Nor does it take the broadcast address of another leg's network. */
function isFarBroadcast({ stack, ingress, packet }: Passage): boolean {
  const { destination } = packet;
  if (stack.stack.answersFor !== "this-leg" || ingress === undefined) return false;
  if (destination.family !== 4 || !stack.broadcasts.has(destination.value) || destination.value === 0xffffffffn)
    return false;
  return ingress.addresses.every((own) => lastAddress(prefixOf(own, own.prefixLength)).value !== destination.value);
}

function routeSent(world: World, passage: Passage, step: StepOf<"route">): StepResult {
  const { packet, stack, boundEgress, near } = passage;
  const found = wayOut(stack, packet.destination, world.picks, boundEgress, near);
  // Neighbours are asked and answered on their link, whatever the routes say and whoever asks, the stack itself too (seen on Linux 6.18).
  const way = passage.begun === "discovery" && found.to !== "group" ? onLink(stack, boundEgress) : found;
  noteRoutes(world, passage, way);
  passage.isRouted = true;
  passage.egress = undefined;
  passage.nextHop = undefined;
  passage.isOwn = way.to === "own";
  if (way.to === "own") {
    note(passage, "route", way.origin ?? step.origin, "to itself");
    return undefined;
  }
  if (way.to !== "group") return take(passage, way);
  if (way.egress === undefined) return { do: "drop", reason: "no-route", origin: step.origin };
  passage.egress = way.egress;
  note(passage, "route", step.origin, `to everyone on ${way.egress.interface.id}`);
  return undefined;
}

/** Follows a hop, or says why there is none. */
function take(passage: Passage, way: Exclude<Way, { readonly to: "own" | "group" }>): StepResult {
  if (way.to === "nowhere") {
    note(passage, "route", way.origin, "nowhere");
    return { do: "refuse", with: way.with, reason: way.reason, origin: way.origin };
  }
  const { egress, nextHop, origin } = way;
  passage.isRouted = true;
  passage.egress = egress;
  passage.nextHop = nextHop;
  const via = nextHop === undefined ? "" : ` via ${formatAddress(nextHop)}`;
  note(passage, "route", origin, `${egress.interface.id}${via}`);
  return undefined;
}

/** Sends a packet of the stack's own another way, after its destination was rewritten. */
export function routeAgain(world: World, passage: Passage, origin: StepOf<"route">["origin"]): StepResult {
  passage.hardware = undefined;
  passage.near = undefined;
  unbind(passage);
  return routeSent(world, passage, { op: "route", origin });
}

/**
 * What the stack bound itself, because it was for an address of a link, goes by the routes once it is for another one. A program
 * stays bound, and so does a connection of TCP that it took (seen on Linux 6.18).
 */
export function unbind(passage: Passage): void {
  const { begun, packet } = passage;
  if (isLinkScope(packet.destination)) return;
  if (begun === "error" || (begun === "answer" && packet.body.kind !== "tcp")) passage.boundEgress = undefined;
}

/** Whether a destination is reached without asking for a neighbour. */
export function isGroupDestination(passage: Passage): boolean {
  const { destination } = passage.packet;
  if (isMulticast(destination)) return true;
  return (
    destination.family === 4 && (destination.value === 0xffffffffn || passage.stack.broadcasts.has(destination.value))
  );
}
