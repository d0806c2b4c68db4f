/**
 * The neighbour caches over time: a packet that needs a neighbour either has its hardware address at once or waits
 * while the segment is asked. ARP and neighbour discovery share the machine; they differ in how they ask.
 */
import type { Address, Hardware } from "../address/index.ts";
import {
  addressKey,
  BROADCAST_HARDWARE,
  formatAddress,
  isLinkLocal,
  multicastHardware,
  single,
  solicitedNode,
} from "../address/index.ts";
import { NEIGHBOUR_SETTINGS, type NeighbourEvent, stepNeighbour } from "../protocol/index.ts";
import { choiceId } from "../settle/index.ts";
import { ARP_REQUEST, type Frame, type IpPacket } from "../wire/index.ts";
import { emitToAudience } from "./audience.ts";
import { after, type Journey } from "./journal.ts";
import { askersOf, neighbourEntry, nowMs } from "./memory.ts";
import { answersFor, ownersHeard } from "./owners.ts";
import { discoveryPacket } from "./packets.ts";
import type { InterfacePlan } from "./plan.ts";
import { addressFacing } from "./source-address.ts";
import type { NeighbourEntry, Passage, World } from "./world.ts";

/** The hardware address of a neighbour; undefined: the passage waits and will be resumed or given up. */
export function needNeighbour(
  world: World,
  leg: InterfacePlan,
  address: Address,
  passage: Passage,
): Hardware | undefined {
  const entry = neighbourEntry(world, leg, address);
  const { state, actions } = stepNeighbour(NEIGHBOUR_SETTINGS, entry.state, { kind: "needed" }, nowMs(world));
  entry.state = state;
  const [action] = actions;
  if (action?.do === "use") return action.hardware;
  entry.waiting.push(passage);
  if (action?.do === "ask") ask(world, leg, address, entry);
  return undefined;
}

/** Asks for a neighbour that nothing waits for; it is known afterwards if it answers. */
export function lookForNeighbour(world: World, leg: InterfacePlan, address: Address): void {
  step(world, leg, address, { kind: "needed" });
}

/** A station said which hardware address an address has; where the pick is that another one says it first, it is not heard. */
export function hearNeighbour(world: World, leg: InterfacePlan, address: Address, hardware: Hardware): void {
  const first = firstToAnswer(world, leg);
  if (first !== undefined && answersFor(first, address) && first.interface.hardware !== hardware) return;
  step(world, leg, address, { kind: "heard", hardware });
}

/** Of those that have one address, the one that is picked to answer an interface first. */
export function firstToAnswer(world: World, leg: InterfacePlan): InterfacePlan | undefined {
  const picked = world.picks.given("neighbour-owner", choiceId("neighbour-owner", leg.interface.id));
  return picked === undefined ? undefined : world.plan.interfaces.get(picked);
}

function step(world: World, leg: InterfacePlan, address: Address, event: NeighbourEvent): void {
  const entry = neighbourEntry(world, leg, address);
  const { state, actions } = stepNeighbour(NEIGHBOUR_SETTINGS, entry.state, event, nowMs(world));
  entry.state = state;
  if (state.state !== "asking") entry.cancel?.();
  for (const action of actions) {
    if (action.do === "ask") ask(world, leg, address, entry);
    else finish(world, entry, action.do === "use" ? action.hardware : undefined);
  }
}

function finish(world: World, entry: NeighbourEntry, hardware: Hardware | undefined): void {
  for (const passage of entry.waiting.splice(0)) {
    if (hardware === undefined) {
      world.giveUp(passage, entry.asked);
      continue;
    }
    passage.hardware = hardware;
    world.resume(passage);
  }
}

function ask(world: World, leg: InterfacePlan, address: Address, entry: NeighbourEntry): void {
  const waiting = entry.waiting[0];
  const journey: Journey = { descent: "discovery", parent: waiting?.journey };
  entry.asked = journey;
  if (waiting !== undefined) noteAsk(waiting, leg, address);
  if (address.family === 4) askByArp(world, leg, address, journey, waiting);
  else solicit(world, leg, address, journey, waiting);
  const { state } = entry;
  if (state.state !== "asking") return;
  entry.cancel = world.queue.add(state.retryAtMs * 1000, () => step(world, leg, address, { kind: "timer" }));
}

function noteAsk(passage: Passage, leg: InterfacePlan, address: Address): void {
  if (passage.trail?.step.did === "ask") return;
  const detail = `who has ${formatAddress(address)} on ${leg.interface.id}`;
  passage.trail = after(passage.trail, { at: leg.stack.stack.id, did: "ask", origin: leg.interface.origin, detail });
}

const NOBODY: Address = { family: 4, value: 0n };

function askByArp(
  world: World,
  leg: InterfacePlan,
  address: Address,
  journey: Journey,
  waiting: Passage | undefined,
): void {
  const { hardware } = leg.interface;
  const sender = addressFacing(leg.stack, leg, address) ?? NOBODY;
  const frame: Frame = {
    destination: BROADCAST_HARDWARE,
    source: hardware,
    tags: [],
    payload: {
      kind: "arp",
      arp: {
        operation: ARP_REQUEST,
        senderHardware: hardware,
        senderAddress: sender,
        targetHardware: 0n,
        targetAddress: address,
      },
    },
  };
  const flight = { journey, trail: waiting?.trail };
  world.notes.owners(single(addressKey(address)));
  // Others hear the question too, but only these do anything about it.
  const audience = new Set([...ownersHeard(world.plan, address), ...askersOf(world, sender)]);
  emitToAudience(world, leg, frame, flight, [...audience]);
}

/**
 * RFC 4861 section 7.2.2: from the address of the packet that waits, if it is of this interface, else from any; the kernel
 * takes the link-local one.
 */
function solicit(
  world: World,
  leg: InterfacePlan,
  target: Address,
  journey: Journey,
  waiting: Passage | undefined,
): void {
  const source = solicitingSource(leg, target, waiting?.packet);
  if (source === undefined) return;
  const destination = solicitedNode(target);
  const packet = discoveryPacket(source, destination, {
    kind: "neighbour-solicitation",
    target,
    options: [{ kind: "source-link", hardware: leg.interface.hardware }],
  });
  const hardware = multicastHardware(destination);
  world.send({ stack: leg.stack, packet, journey, begun: "discovery", egress: leg, hardware });
}

function solicitingSource(leg: InterfacePlan, target: Address, packet: IpPacket | undefined): Address | undefined {
  const isHere =
    packet !== undefined &&
    leg.addresses.some(({ family, value }) => {
      return family === 6 && packet.source.family === 6 && value === packet.source.value;
    });
  if (isHere) return packet.source;
  const linkLocal = leg.addresses.find((address) => isLinkLocal(address));
  return linkLocal === undefined
    ? addressFacing(leg.stack, leg, target)
    : { family: linkLocal.family, value: linkLocal.value };
}
