/**
 * An interface takes a frame in: is it for this station, and which part of the stack is it for.
 */
import { isMulticastHardware } from "../address/index.ts";
import type { Frame } from "../wire/index.ts";
import { receiveArp } from "./arp.ts";
import type { Flight } from "./journal.ts";
import { end } from "./link-layer.ts";
import { receivedPassage } from "./passage.ts";
import type { InterfacePlan } from "./plan.ts";
import { runPassage } from "./stack.ts";
import type { World } from "./world.ts";

/** Takes a frame in by an interface. */
export function takeIn(world: World, leg: InterfacePlan, frame: Frame, flight: Flight): void {
  const isGroupFrame = isMulticastHardware(frame.destination);
  if (!isGroupFrame && frame.destination !== leg.interface.hardware) {
    notForUs(world, leg, frame, flight);
    return;
  }
  if (world.watcher?.taps(leg, frame, flight) === true) return;
  const { payload } = frame;
  switch (payload.kind) {
    case "arp":
      receiveArp(world, leg, payload.arp, flight);
      return;
    case "ip":
      if (payload.packet.source.family === 6 && !leg.interface.speaks6) {
        notForUs(world, leg, frame, flight);
        return;
      }
      runPassage(world, receivedPassage(leg, payload.packet, frame, flight));
      return;
    default:
      // No stack here runs the protocol.
      notForUs(world, leg, frame, flight);
      return;
  }
}

function notForUs(world: World, leg: InterfacePlan, frame: Frame, flight: Flight): void {
  end(world, leg.interface.id, { reason: "not-for-this-station", origin: leg.interface.origin }, frame, flight);
}
