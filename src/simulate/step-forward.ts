/**
 * Steps on the way out: `hop-limit`, `fit`, `neighbour`, `transmit`.
 */
import {
  type Address,
  addressKey,
  BROADCAST_HARDWARE,
  formatAddress,
  type Hardware,
  isMulticast,
  isMulticastHardware,
  multicastHardware,
  rangesContain,
  single,
} from "../address/index.ts";
import type { Step, TunnelEnd } from "../network/index.ts";
import { type Frame, fragmentPacket, type IpPacket, lengthOfIp } from "../wire/index.ts";
import { emitToAudience } from "./audience.ts";
import { neighbourEntry } from "./memory.ts";
import { firstToAnswer, needNeighbour } from "./neighbour-cache.ts";
import { ownersHeard } from "./owners.ts";
import { note, type StepResult } from "./passage.ts";
import { type InterfacePlan, need, type StackPlan } from "./plan.ts";
import { NO_NEIGHBOUR, TIME_EXCEEDED, TOO_BIG } from "./refusals.ts";
import { isGroupDestination } from "./step-route.ts";
import type { Passage, StepOf, World } from "./world.ts";

/** RFC 1812 section 5.3.1. */
export function stepHopLimit(passage: Passage, step: StepOf<"hop-limit">): StepResult {
  const { packet } = passage;
  if (packet.hopLimit <= 1) return { do: "refuse", with: TIME_EXCEEDED, reason: "hop-limit", origin: step.origin };
  passage.packet = { ...packet, hopLimit: packet.hopLimit - 1 };
  note(passage, "hop-limit", step.origin, `${packet.hopLimit - 1} left`);
  return undefined;
}

/** What a packet becomes that is too large for the egress: pieces, or nothing. */
export type FitResult =
  | StepResult
  | {
      readonly do: "split";
      /** In order. */
      readonly pieces: readonly IpPacket[];
    };

/** Larger than the egress takes: in pieces where it may, else refused. Who sends a packet itself may always cut it. */
export function stepFit(world: World, passage: Passage, step: StepOf<"fit">): FitResult {
  const { egress, packet, begun } = passage;
  if (egress === undefined || passage.isOwn) return undefined;
  const { mtu } = egress.interface;
  if (lengthOfIp(packet) <= mtu) return undefined;
  const mayCut = begun !== undefined || (packet.source.family === 4 && !packet.dontFragment);
  if (!mayCut) return { do: "refuse", with: TOO_BIG, reason: "too-big", origin: step.origin, mtu };
  if (!step.cuts) return undefined;
  note(passage, "fit", step.origin, `in pieces of at most ${mtu} bytes`);
  const identification = packet.identification || ++world.identification;
  const whole = { ...packet, identification, dontFragment: packet.source.family === 6 };
  return { do: "split", pieces: fragmentPacket(whole, mtu) };
}

/** Finds the hardware address of the next hop; the packet waits while nobody has answered. */
export function stepNeighbour(world: World, passage: Passage, step: StepOf<"neighbour">): StepResult {
  const { egress, packet } = passage;
  if (passage.isOwn || passage.hardware !== undefined) return undefined;
  if (egress === undefined) throw new Error(`\`${passage.stack.stack.id}\` asks for a neighbour before it routes`);
  if (egress.interface.session !== undefined) return stepPeer(world, passage, step, egress);
  if (egress.interface.tunnel !== undefined) return stepTunnel(world, passage, step, egress, egress.interface.tunnel);
  if (isGroupDestination(passage)) {
    passage.hardware = groupHardware(packet.destination);
    return undefined;
  }
  const address = passage.nextHop ?? packet.destination;
  const standIn = standInFor(world, egress, address);
  // Nobody answers on a dead link (seen on Linux 6.18); a neighbour taken to exist brings its cable along. A bond without carrier
  // may have heard one.
  if (!egress.up && standIn === undefined && neighbourEntry(world, egress, address).state.state !== "known") {
    return { do: "refuse", with: NO_NEIGHBOUR, reason: "interface-down", origin: step.origin };
  }
  const hardware = standIn ?? needNeighbour(world, egress, address, passage);
  if (hardware === undefined) return { do: "wait" };
  passage.hardware = hardware;
  note(passage, "neighbour", step.origin, `${formatAddress(address)} on ${egress.interface.id}`);
  return undefined;
}

/** In a session nobody is asked: a client sends all to its peer, a server to the peer that has the address. */
function stepPeer(world: World, passage: Passage, step: StepOf<"neighbour">, egress: InterfacePlan): StepResult {
  const address = passage.nextHop ?? passage.packet.destination;
  const isForAll = isGroupDestination(passage);
  const standIn = isForAll ? undefined : standInFor(world, egress, address);
  const [first] = isForAll ? peersOf(world, egress) : peersFor(world, egress, address);
  const hardware = standIn ?? first?.interface.hardware;
  if (hardware === undefined) {
    const reason = egress.up ? "no-neighbour" : "interface-down";
    return { do: "refuse", with: NO_NEIGHBOUR, reason, origin: step.origin };
  }
  // What is for a group goes to each peer in a frame of its own.
  passage.hardware = isForAll ? groupHardware(passage.packet.destination) : hardware;
  note(passage, "neighbour", step.origin, `${formatAddress(address)} on ${egress.interface.id}`);
  return undefined;
}

/** A tunnel takes what its peer is allowed, whatever the next hop; while it is down nobody is told (from memory, of the kernel's own tunnel). */
function stepTunnel(
  world: World,
  passage: Passage,
  step: StepOf<"neighbour">,
  egress: InterfacePlan,
  { allowed, whenDown, reason, origin }: TunnelEnd,
): StepResult {
  const { destination } = passage.packet;
  if (!rangesContain(allowed, addressKey(destination))) {
    return { do: "refuse", with: NO_NEIGHBOUR, reason: "no-neighbour", origin: step.origin };
  }
  const [peer] = peersOf(world, egress);
  if (peer === undefined) {
    return whenDown === "silent"
      ? { do: "drop", reason, origin }
      : { do: "refuse", with: NO_NEIGHBOUR, reason, origin };
  }
  passage.hardware = peer.interface.hardware;
  note(passage, "neighbour", step.origin, peer.interface.id);
  return undefined;
}

function peersOf({ plan }: World, { peers }: InterfacePlan): readonly InterfacePlan[] {
  return peers.map((id) => need(plan.interfaces, id, "interface"));
}

function peersFor(world: World, leg: InterfacePlan, address: Address): readonly InterfacePlan[] {
  const peers = peersOf(world, leg);
  if (leg.interface.session?.role === "client") return peers;
  const owners = peers.filter(({ own }) => own.has(addressKey(address)));
  const first = firstToAnswer(world, leg);
  return first !== undefined && owners.includes(first) ? [first] : owners;
}

function groupHardware(destination: Address): Hardware {
  return isMulticast(destination) ? multicastHardware(destination) : BROADCAST_HARDWARE;
}

/** A neighbour that is taken to exist has a hardware address that no device has: locally administered, from its address. */
function standInFor(world: World, leg: InterfacePlan, address: Address): Hardware | undefined {
  const key = addressKey(address);
  const isTaken = world.standIns.some(({ interface: id, address: assumed }) => {
    return id === leg.interface.id && addressKey(assumed) === key;
  });
  return isTaken ? 0x0600_0000_0000n | (address.value & 0xff_ffff_ffffn) : undefined;
}

/** Onto the egress interface. */
export function stepTransmit(world: World, passage: Passage, step: Step): StepResult {
  const { egress, packet, journey, hardware } = passage;
  if (egress === undefined || hardware === undefined) {
    throw new Error(`\`${passage.stack.stack.id}\` transmits before it knows where to`);
  }
  note(passage, "transmit", step.origin, egress.interface.id);
  if (egress.interface.session !== undefined) {
    transmitInSession(world, passage, egress, hardware);
    return { do: "done" };
  }
  const frame = {
    destination: hardware,
    source: egress.interface.hardware,
    tags: [],
    payload: { kind: "ip", packet },
  } as const;
  const flight = { journey, trail: passage.trail };
  const audience = isMulticastHardware(hardware) ? audienceOf(world, packet) : undefined;
  if (audience === undefined) world.emit(egress, frame, flight);
  else emitToAudience(world, egress, frame, flight, audience);
  return { do: "done" };
}

const SESSION = 1; // which number a session has makes no difference

function transmitInSession(world: World, passage: Passage, egress: InterfacePlan, hardware: Hardware): void {
  const { packet, journey, trail } = passage;
  const to = isMulticastHardware(hardware) ? peersOf(world, egress).map((peer) => peer.interface.hardware) : [hardware];
  for (const destination of to) {
    const payload = { kind: "session", session: SESSION, packet } as const;
    const frame: Frame = { destination, source: egress.interface.hardware, tags: [], payload };
    world.emit(egress, frame, { journey, trail });
  }
}

/** Whom a packet to everyone concerns: who is asked for, or who waits for it; undefined: whoever hears it. */
function audienceOf(world: World, packet: IpPacket): readonly StackPlan[] | undefined {
  const { body, destination } = packet;
  if (body.kind === "neighbour" && isMulticast(destination) && body.message.kind === "neighbour-solicitation") {
    world.notes.owners(single(addressKey(body.message.target)));
    return ownersHeard(world.plan, body.message.target);
  }
  return world.watcher?.concerns(packet);
}
