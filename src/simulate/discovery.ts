/**
 * Neighbour discovery at a stack (RFC 4861 section 7.2): it came through the stack's rules like any packet (kernel fact
 * 18) and is answered for the addresses of the leg that it came in by.
 */
import { type Address, formatAddress, isUnspecified } from "../address/index.ts";
import { type IpPacket, linkAddress, type NeighbourAdvertisement, type NeighbourSolicitation } from "../wire/index.ts";
import { neighbourOf } from "./memory.ts";
import { hearNeighbour } from "./neighbour-cache.ts";
import { answersFor } from "./owners.ts";
import { discoveryPacket } from "./packets.ts";
import { note } from "./passage.ts";
import type { InterfacePlan } from "./plan.ts";
import type { Passage, World } from "./world.ts";

const FROM_THIS_LINK = 255; // hop limit of every valid message, RFC 4861 section 7.1

/** A message of neighbour discovery was delivered. */
export function receiveDiscovery(world: World, passage: Passage): void {
  const { packet, ingress } = passage;
  if (packet.body.kind !== "neighbour" || ingress === undefined || packet.hopLimit !== FROM_THIS_LINK) return;
  const { message } = packet.body;
  if (message.kind === "neighbour-solicitation") onSolicitation(world, passage, ingress, message);
  if (message.kind === "neighbour-advertisement") onAdvertisement(world, ingress, message);
}

function onAdvertisement(world: World, leg: InterfacePlan, { target, options }: NeighbourAdvertisement): void {
  const hardware = linkAddress(options, "target-link");
  // Unasked advertisements make no entries (RFC 4861 section 7.2.5).
  if (hardware === undefined || neighbourOf(world, leg, target) === undefined) return;
  hearNeighbour(world, leg, target, hardware);
}

function onSolicitation(world: World, passage: Passage, leg: InterfacePlan, asked: NeighbourSolicitation): void {
  const { source } = passage.packet;
  if (!answersFor(leg, asked.target) || isUnspecified(source)) return;
  const hardware = linkAddress(asked.options, "source-link");
  if (hardware !== undefined) hearNeighbour(world, leg, source, hardware);
  note(passage, "answer", leg.interface.origin, `${formatAddress(asked.target)} is here`);
  const packet = advertisement(leg, asked.target, source);
  const journey = { descent: "discovery", parent: passage.journey } as const;
  // Straight to who asked, whatever the routes say of its address (RFC 4861 section 7.2.4).
  const order = { stack: leg.stack, packet, journey, begun: "discovery", egress: leg, trail: passage.trail } as const;
  world.send(hardware === undefined ? order : { ...order, hardware });
}

function advertisement(leg: InterfacePlan, target: Address, destination: Address): IpPacket {
  return discoveryPacket(target, destination, {
    kind: "neighbour-advertisement",
    target,
    router: leg.stack.stack.onward.every(({ op }) => op !== "no-transit"),
    solicited: true,
    override: true,
    options: [{ kind: "target-link", hardware: leg.interface.hardware }],
  });
}
