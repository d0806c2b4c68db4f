/**
 * A packet on its way through one stack: how it begins, how conditions see it, and what a step can say of it.
 */
import { isMulticastHardware } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import { type DropReason, type Id, NO_NOTES, type PathStep, type Refusal } from "../network/index.ts";
import type { Frame, IpPacket } from "../wire/index.ts";
import { after, type Flight } from "./journal.ts";
import { testOf } from "./match.ts";
import { emptyView, type PacketView, readPacket } from "./packet-view.ts";
import type { InterfacePlan, StackPlan } from "./plan.ts";
import type { Passage, SendOrder, World } from "./world.ts";

/** What a step says: nothing (go on), or how it goes on or ends. */
export type StepResult =
  | undefined
  /** Ends here; `isSilent` where a program would not be told. */
  | {
      readonly do: "drop";
      /** Why. */
      readonly reason: DropReason;
      /** The line that decides. */
      readonly origin: Origin;
    }
  | {
      /** Ends here and is answered. `mtu`: for "too big". */
      readonly do: "refuse";
      /** The answer. */
      readonly with: Refusal;
      /** Why. */
      readonly reason: DropReason;
      /** The line that decides. */
      readonly origin: Origin;
      /** Bytes that would have fitted. */
      readonly mtu?: number;
    }
  | {
      readonly do: "unknown";
      /** What nobody knows. */
      readonly note: string;
      /** The line that decides. */
      readonly origin: Origin;
    }
  /** Goes on in another sequence. */
  | {
      readonly do: "turn";
      /** Which one. */
      readonly to: "local" | "onward";
    }
  /** Is resumed by somebody else. */
  | { readonly do: "wait" }
  /** Is in other hands: transmitted or delivered. */
  | { readonly do: "done" };

/** A packet that came in by an interface, before its first step. */
export function receivedPassage(leg: InterfacePlan, packet: IpPacket, frame: Frame, flight: Flight): Passage {
  const passage: Passage = {
    ...blankPassage(leg.stack, packet),
    journey: flight.journey,
    trail: flight.trail,
    ingress: leg,
    isGroupFrame: isMulticastHardware(frame.destination),
    steps: leg.stack.stack.received,
  };
  passage.view.sourceHardware = Number(frame.source);
  passage.view.destinationHardware = Number(frame.destination);
  return passage;
}

/** A packet that a stack begins. */
export function sentPassage(order: SendOrder): Passage {
  const { stack, packet, journey, begun, egress, near, hardware, about } = order;
  return {
    ...blankPassage(stack, packet),
    journey,
    trail: order.trail,
    begun,
    boundEgress: egress,
    near,
    hardware,
    tracked: about?.tracked,
    direction: about?.direction === "original" ? "reply" : "original",
    state: about === undefined ? undefined : "related",
    steps: stack.stack.sent,
  };
}

/** A packet of the stack's own to one of its own addresses, or `heardBy` an interface to everyone, as it comes in again. */
export function turnedPassage(passage: Passage, heardBy?: InterfacePlan): Passage {
  return {
    ...blankPassage(passage.stack, passage.packet),
    journey: passage.journey,
    trail: passage.trail,
    begun: passage.begun,
    isTurned: true,
    heardBy,
    tracked: passage.tracked,
    direction: passage.direction,
    state: passage.state,
    isSourcePaid: passage.isSourcePaid,
    isDestinationPaid: passage.isDestinationPaid,
    steps: passage.stack.stack.received,
  };
}

function blankPassage(stack: StackPlan, packet: IpPacket): Passage {
  return {
    stack,
    journey: { descent: "sent", parent: undefined },
    trail: undefined,
    packet,
    ingress: undefined,
    isGroupFrame: false,
    begun: undefined,
    isTurned: false,
    heardBy: undefined,
    steps: [],
    next: 0,
    egress: undefined,
    boundEgress: undefined,
    near: undefined,
    outBefore: undefined,
    isRouted: false,
    isOwn: false,
    nextHop: undefined,
    hardware: undefined,
    tracked: undefined,
    direction: "original",
    state: undefined,
    isSourcePaid: false,
    isDestinationPaid: false,
    view: emptyView(),
    viewed: undefined,
  };
}

/** The packet as conditions see it now. */
export function look(passage: Passage): PacketView {
  const { view, tracked } = passage;
  if (passage.viewed !== passage.packet) {
    readPacket(view, passage.packet);
    passage.viewed = passage.packet;
  }
  const leg = passage.ingress ?? passage.heardBy;
  view.ingress = leg === undefined ? NOBODY : [leg.interface.id];
  const out = passage.outBefore === undefined ? passage.egress : passage.outBefore.leg;
  view.egress = out === undefined ? NOBODY : [out.interface.id];
  view.state = passage.state === undefined ? NOBODY : [passage.state];
  view.translated = tracked === undefined ? NOBODY : rewrittenEnds(tracked);
  return view;
}

const NOBODY: readonly string[] = [];

function rewrittenEnds({
  isSourceRewritten,
  isDestinationRewritten,
}: NonNullable<Passage["tracked"]>): readonly string[] {
  if (!isSourceRewritten && !isDestinationRewritten) return NOBODY;
  return [...(isSourceRewritten ? ["source"] : []), ...(isDestinationRewritten ? ["destination"] : [])];
}

/** Tells that a packet came to a table of rules, as it is now: its view is written anew at the next step. */
export function noteRules({ notes }: World, table: Id, view: PacketView): void {
  if (notes === NO_NOTES) return;
  const kept = { ...view };
  notes.filter(table, (when, instead) => testOf(when)(kept) !== (instead !== undefined && testOf(instead)(kept)));
}

/** Writes a step into the packet's trail. */
export function note(passage: Passage, did: PathStep["did"], origin: Origin, detail = ""): void {
  passage.trail = after(passage.trail, { at: passage.stack.stack.id, did, origin, detail });
}
