/**
 * Packets through stacks: each runs through the steps of its sequence, one function a step, until it is handed on, waits,
 * or ends. Here, too, what a program is told when a packet of its own never leaves (kernel facts 2 and 15).
 */
import { isMulticast } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { DropReason, Fate, PathStep, Step } from "../network/index.ts";
import { type IpPacket, isFragment } from "../wire/index.ts";
import { deliver } from "./deliver.ts";
import type { AskedNote, Journey, Trail } from "./journal.ts";
import { isLinkScope } from "./packets.ts";
import { note, type StepResult, sentPassage, turnedPassage } from "./passage.ts";
import type { InterfacePlan } from "./plan.ts";
import { assemble } from "./reassembly.ts";
import { NO_NEIGHBOUR } from "./refusals.ts";
import { type Answered, refusePacket } from "./refuse.ts";
import { hearsGroup, wayOut } from "./route-choice.ts";
import { lookUpRoute } from "./route-table.ts";
import {
  stepBroadcastSource,
  stepFilter,
  stepNoTransit,
  stepOwnSource,
  stepRequire,
  stepReversePath,
} from "./step-checks.ts";
import { type FitResult, stepFit, stepHopLimit, stepNeighbour, stepTransmit } from "./step-forward.ts";
import { isGroupDestination, routeAgain, stepRoute, unbind } from "./step-route.ts";
import { stepConfirm, stepTrack } from "./step-track.ts";
import { payOwed, stepTranslate } from "./step-translate.ts";
import type { Passage, SendOrder, StepOf, World } from "./world.ts";

/** Begins a packet at a stack. */
export function sendPacket(world: World, order: SendOrder): void {
  runPassage(world, sentPassage(order));
}

/** Takes a packet through its steps as far as it goes now. */
export function runPassage(world: World, passage: Passage): void {
  world.notes.stack(passage.stack.stack.id);
  for (;;) {
    const step = passage.steps[passage.next++];
    if (step === undefined) throw new Error(`the steps of \`${passage.stack.stack.id}\` end without an end`);
    const result = perform(world, passage, step);
    if (result !== undefined && !goesOn(world, passage, result, step)) return;
  }
}

function perform(world: World, passage: Passage, step: Step): FitResult {
  switch (step.op) {
    case "require":
      return stepRequire(passage, step);
    case "own-source":
      return stepOwnSource(passage, step);
    case "broadcast-source":
      return stepBroadcastSource(passage, step);
    case "reverse-path":
      return stepReversePath(passage, step);
    case "filter":
      return stepFilter(world, passage, step);
    case "track":
      return trackAndPay(world, passage, step);
    case "translate":
      return stepTranslate(world, passage, step);
    case "confirm":
      return stepConfirm(world, passage, step);
    case "route":
      return payAndRoute(world, passage, step);
    case "no-transit":
      return stepNoTransit(step);
    case "hop-limit":
      return stepHopLimit(passage, step);
    case "fit":
      return stepFit(world, passage, step);
    case "neighbour":
      return stepNeighbour(world, passage, step);
    case "transmit":
      payOwed(passage, "source", step.origin);
      if (passage.isOwn) return turnRound(world, passage, step);
      hearItself(world, passage, step);
      return stepTransmit(world, passage, step);
    case "deliver":
      payOwed(passage, "source", step.origin);
      return deliver(world, passage, step);
  }
}

/**
 * A packet's destination is put back before it is routed. One of the stack's own was routed before that already, and its
 * list `from` goes by that way (an error to a sender behind its own address leaves by none; seen on Linux 6.18). What had no way then is not sent.
 */
function payAndRoute(world: World, passage: Passage, step: StepOf<"route">): StepResult {
  const { packet, stack, boundEgress } = passage;
  payOwed(passage, "destination", step.origin);
  const isElsewhere = passage.packet.destination.value !== packet.destination.value;
  if (isElsewhere && isStillHere(passage)) {
    const before = wayOut(stack, packet.destination, world.picks, boundEgress, passage.near);
    passage.near = undefined;
    const isUnrouted = isMulticast(packet.destination) && lookUpRoute(stack.routes, packet.destination) === undefined;
    if (isUnrouted) return { do: "drop", reason: "no-route", origin: step.origin };
    if (before.to === "nowhere") return { do: "drop", reason: before.reason, origin: before.origin };
    const leg = before.to === "hop" ? before.egress : undefined;
    passage.outBefore = { leg };
    unbind(passage);
    return stayOnLink(passage, leg, step) ?? stepRoute(world, passage, step);
  }
  return stepRoute(world, passage, step);
}

/** An answer of the stack's own is led back to whom it is meant for as soon as its connection is known, before the list `from`. */
function trackAndPay(world: World, passage: Passage, step: StepOf<"track">): StepResult {
  const { value } = passage.packet.destination;
  const result = stepTrack(world, passage, step);
  if (result !== undefined || passage.begun === undefined || passage.isTurned) return result;
  payOwed(passage, "destination", step.origin);
  if (value === passage.packet.destination.value) return undefined;
  return stayOnLink(passage, passage.egress, step) ?? routeAgain(world, passage, step.origin);
}

/** What is led back to an address of a link leaves by the interface that it was to leave by before, or not at all (seen on Linux 6.18). */
function stayOnLink(passage: Passage, leg: InterfacePlan | undefined, { origin }: Step): StepResult {
  if (!isLinkScope(passage.packet.destination)) return undefined;
  if (leg === undefined) return { do: "drop", reason: "no-route", origin };
  passage.boundEgress = leg;
  return undefined;
}

/** Whether the packet has further steps to take at once. */
function goesOn(world: World, passage: Passage, result: NonNullable<FitResult>, step: Step): boolean {
  switch (result.do) {
    case "turn":
      turnTo(world, passage, result.to);
      return passage.steps.length > 0;
    case "wait":
    case "done":
      return false;
    case "split":
      for (const piece of result.pieces) runPassage(world, { ...passage, packet: piece, viewed: undefined });
      return false;
    case "drop":
      endPassage(world, passage, result, step);
      return false;
    case "refuse":
      refuse(world, passage, result, step);
      return false;
    case "unknown":
      endWith(world, passage, { at: passage.stack.stack.id, origin: result.origin, end: "unknown", note: result.note });
      return false;
  }
}

/** Goes on in another sequence; what is for the stack itself is put together first. */
function turnTo(world: World, passage: Passage, to: "local" | "onward"): void {
  const { stack } = passage;
  passage.next = 0;
  passage.steps = to === "local" ? stack.stack.local : stack.stack.onward;
  if (to === "onward" || !isFragment(passage.packet)) return;
  const whole = assemble(world, stack, passage.packet);
  if (whole === undefined) passage.steps = [];
  else passage.packet = whole;
}

/** A packet of the stack's own to itself comes in again. */
function turnRound(world: World, passage: Passage, step: Step): StepResult {
  note(passage, "transmit", step.origin, "to itself");
  runPassage(world, turnedPassage(passage));
  return { do: "done" };
}

/**
 * What a stack answers to everyone it hears itself, if it is one of them (seen on Linux 6.18). What its programs send to
 * everyone is looked for at others.
 */
function hearItself(world: World, passage: Passage, step: Step): void {
  const { stack, packet, egress } = passage;
  if (
    !isStillHere(passage) ||
    passage.begun === "discovery" ||
    passage.begun === "program" ||
    !isGroupDestination(passage)
  )
    return;
  if (egress === undefined || !hearsGroup(stack, egress, packet.destination)) return;
  const heard = turnedPassage(passage, egress);
  note(heard, "transmit", step.origin, "to itself");
  runPassage(world, heard);
}

type Drop = { readonly reason: DropReason; readonly origin: Origin };

function endPassage(world: World, passage: Passage, { reason, origin }: Drop, step: Step): void {
  tellProgram(world, passage, step);
  endWith(world, passage, { at: passage.stack.stack.id, origin, end: "dropped", reason });
}

function refuse(
  world: World,
  passage: Passage,
  result: Extract<StepResult, { readonly do: "refuse" }>,
  step: Step,
): void {
  const { reason } = result;
  tellProgram(world, passage, step);
  // What becomes of the packet is written down before what becomes of the answer.
  const index = world.journal.endings.length;
  // A program that finds no route is told by its call, not by a packet (kernel fact 2).
  const isCall = isStillHere(passage) && step.op === "route";
  const isMute = isCall || isOwnReply(passage, step);
  const answered = isMute ? undefined : refusePacket(world, passage, result.with, result.mtu);
  const fate = loopOf(passage, reason) ?? turnedAway(passage, result, answered);
  endWith(world, passage, fate, undefined, index);
}

/** While a stack sends a reply to an echo it says nothing else of ICMP, so its own rules turn it away in silence (seen on Linux 6.18). */
function isOwnReply(passage: Passage, { op }: Step): boolean {
  return op === "filter" && isStillHere(passage) && passage.begun === "answer" && passage.packet.body.kind === "icmp";
}

/** The fate that a refusal means, whether or not its answer could be sent. */
function turnedAway(
  { stack, packet }: Passage,
  { reason, origin, with: { answer, silentFor } }: Extract<StepResult, { readonly do: "refuse" }>,
  answered: Answered | undefined,
): Fate {
  const at = stack.stack.id;
  if (answer.kind === "silent" || silentFor === packet.source.family) return { at, origin, end: "dropped", reason };
  const from = answered === undefined ? {} : { from: answered.from };
  if (answer.kind === "tcp-reset" && packet.body.kind === "tcp") return { at, origin, end: "refused", reason, ...from };
  const pair = answer.kind === "icmp" ? answer.error : answer.others;
  return { at, origin, end: "refused", reason, icmp: packet.source.family === 4 ? pair.v4 : pair.v6, ...from };
}

function isStillHere({ begun, isTurned }: Passage): boolean {
  return begun !== undefined && !isTurned;
}

/** A route that fails tells the program at once; so does an output rule, but for TCP, which just tries again. */
function tellProgram(world: World, passage: Passage, step: Step): void {
  if (passage.begun !== "program" || passage.isTurned) return;
  const isTold = step.op === "route" || (step.op === "filter" && passage.packet.body.kind !== "tcp");
  if (isTold) world.watcher?.fails(passage);
}

/** Hop limit used up in a circle: the route that leads round is to blame. */
function loopOf(passage: Passage, reason: DropReason): Fate | undefined {
  if (reason !== "hop-limit") return undefined;
  const at = passage.stack.stack.id;
  const here = stepsAt(passage.trail, at);
  if (!here.some(({ did }) => did === "hop-limit")) return undefined;
  const route = here.find(({ did }) => did === "route");
  return route && { at, origin: route.origin, end: "looped" };
}

/** Steps taken at a place before, the latest first. */
function stepsAt(trail: Trail, at: string): PathStep[] {
  const steps: PathStep[] = [];
  for (let here = trail; here !== undefined; here = here.before) if (here.step.at === at) steps.push(here.step);
  return steps;
}

function endWith(world: World, passage: Passage, fate: Fate, asked?: AskedNote, index?: number): void {
  const { journey, trail } = passage;
  const packet: IpPacket = passage.packet;
  world.journal.endings.splice(index ?? world.journal.endings.length, 0, { journey, fate, trail, packet, asked });
}

/** A packet that waited for a neighbour goes on behind that step. */
export function resumePassage(world: World, passage: Passage): void {
  const { origin } = waitingStep(passage);
  note(passage, "neighbour", origin, passage.egress?.interface.id ?? "");
  runPassage(world, passage);
}

/** A packet that waited in vain ends: nobody answered. */
export function giveUpPassage(world: World, passage: Passage, asked: Journey | undefined): void {
  const { origin } = waitingStep(passage);
  const index = world.journal.endings.length;
  const answered = refusePacket(world, passage, NO_NEIGHBOUR);
  const fate = turnedAway(passage, { do: "refuse", with: NO_NEIGHBOUR, reason: "no-neighbour", origin }, answered);
  const { egress, nextHop, packet } = passage;
  const note = egress && { journey: asked, leg: egress.interface.id, address: nextHop ?? packet.destination };
  endWith(world, passage, fate, note, index);
}

/** The step that a waiting packet is at. */
function waitingStep({ steps, next, stack }: Passage): Step {
  const step = steps[next - 1];
  if (step === undefined) throw new Error(`a packet of \`${stack.stack.id}\` waits at no step`);
  return step;
}
