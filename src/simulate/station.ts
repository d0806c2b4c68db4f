/**
 * An interface takes a frame in: is it for this station, and which part of the stack is it for.
 */
import { isMulticastHardware } from "../address/index.ts";
import type { Frame, IpPacket } from "../wire/index.ts";
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
  if (leg.interface.session !== undefined) {
    takeSession(world, leg, frame, flight);
    return;
  }
  if (world.watcher?.taps(leg, frame, flight) === true) return;
  const { payload } = frame;
  if (payload.kind === "arp") receiveArp(world, leg, payload.arp, flight);
  else if (payload.kind === "ip") receivePacket(world, leg, payload.packet, frame, flight);
  // No stack here runs another protocol.
  else notForUs(world, leg, frame, flight);
}

/** An interface of a session takes nothing but frames of it, each to one station (RFC 2516 section 6). */
function takeSession(world: World, leg: InterfacePlan, frame: Frame, flight: Flight): void {
  const { payload, destination } = frame;
  if (payload.kind === "session" && !isMulticastHardware(destination)) {
    receivePacket(world, leg, payload.packet, frame, flight);
  } else notForUs(world, leg, frame, flight);
}

function receivePacket(world: World, leg: InterfacePlan, packet: IpPacket, frame: Frame, flight: Flight): void {
  if (packet.source.family === 6 && !leg.interface.speaks6) notForUs(world, leg, frame, flight);
  else runPassage(world, receivedPassage(leg, packet, frame, flight));
}

function notForUs(world: World, leg: InterfacePlan, frame: Frame, flight: Flight): void {
  end(world, leg.interface.id, { reason: "not-for-this-station", origin: leg.interface.origin }, frame, flight);
}
