/**
 * ARP at an interface (RFC 826): a request for an address that the device answers for is answered, whatever IP rules
 * say (kernel fact 18); what a sender says of itself is remembered when it asked for us or we asked for it.
 */
import { type Address, formatAddress, isUnspecified } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { DropReason } from "../network/index.ts";
import { ARP_REPLY, ARP_REQUEST, type ArpPacket, type Frame } from "../wire/index.ts";
import { after, type Flight } from "./journal.ts";
import { neighbourOf } from "./memory.ts";
import { hearNeighbour } from "./neighbour-cache.ts";
import { answersFor } from "./owners.ts";
import type { InterfacePlan } from "./plan.ts";
import { checkReversePath, isOwnSource } from "./source-checks.ts";
import type { World } from "./world.ts";

/** An ARP packet comes in by an interface. */
export function receiveArp(world: World, leg: InterfacePlan, arp: ArpPacket, flight: Flight): void {
  const { operation, senderAddress, targetAddress, senderHardware } = arp;
  const isForUs = operation === ARP_REQUEST && answersFor(leg, targetAddress);
  if (isForUs) {
    world.notes.stack(leg.stack.stack.id);
    const stop = refusedSender(leg, senderAddress);
    if (stop !== undefined) {
      endHere(world, leg, flight, stop);
      return;
    }
  }
  // A reply counts only where somebody waits for it; a request for us tells us of its sender (kernel fact 12).
  const isAwaited = neighbourOf(world, leg, senderAddress) !== undefined;
  if ((isAwaited || isForUs) && !isUnspecified(senderAddress)) {
    hearNeighbour(world, leg, senderAddress, senderHardware);
  }
  if (isForUs) answer(world, leg, arp, flight);
}

/** The kernel asks its routes about the sender of a request before it answers (kernel fact 8). */
function refusedSender(
  leg: InterfacePlan,
  sender: Address,
): { readonly reason: DropReason; readonly origin: Origin } | undefined {
  if (isUnspecified(sender)) return undefined;
  for (const step of [...leg.stack.stack.received, ...leg.stack.stack.local]) {
    if (step.op === "own-source" && isOwnSource(leg.stack, sender)) {
      return { reason: "own-source", origin: step.origin };
    }
    if (step.op === "reverse-path" && step.family !== 6 && !checkReversePath(leg, sender, step.mode)) {
      return { reason: "reverse-path", origin: step.origin };
    }
  }
  return undefined;
}

function endHere(
  world: World,
  leg: InterfacePlan,
  { journey, trail }: Flight,
  stop: { readonly reason: DropReason; readonly origin: Origin },
): void {
  const fate = { at: leg.stack.stack.id, end: "dropped", ...stop } as const;
  world.journal.endings.push({ journey, fate, trail, packet: undefined, asked: undefined });
}

function answer(world: World, leg: InterfacePlan, asked: ArpPacket, { journey, trail }: Flight): void {
  const { hardware } = leg.interface;
  const detail = `${formatAddress(asked.targetAddress)} is here`;
  const answered = after(trail, { at: leg.stack.stack.id, did: "answer", origin: leg.interface.origin, detail });
  const frame: Frame = {
    destination: asked.senderHardware,
    source: hardware,
    tags: [],
    payload: {
      kind: "arp",
      arp: {
        operation: ARP_REPLY,
        senderHardware: hardware,
        senderAddress: asked.targetAddress,
        targetHardware: asked.senderHardware,
        targetAddress: asked.senderAddress,
      },
    },
  };
  world.emit(leg, frame, { journey: { descent: "discovery", parent: journey }, trail: answered });
}
