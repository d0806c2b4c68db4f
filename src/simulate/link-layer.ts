/**
 * Frames over time on the link layer: out by an interface, over links, through bridges, to the interface that takes
 * them. Every copy has its own trail; every copy that ends is written down.
 */
import { type Id, isBeyond } from "../network/index.ts";
import { type Frame, packetIn, TPID_CUSTOMER } from "../wire/index.ts";
import { AddressTable } from "./address-table.ts";
import { type BridgeCrossing, type BridgeExit, bridgeFrame, type Stop } from "./bridge-frame.ts";
import { after, type Flight } from "./journal.ts";
import type { Attachment, BridgePlan, BridgePortPlan, InterfacePlan } from "./plan.ts";
import { leave, ownTakerOf, type Taker, takerOf } from "./transport.ts";
import type { World } from "./world.ts";

/** Time that a frame takes over a link, in microseconds. Any figure does; it keeps causes before effects. */
export const LINK_US = 10;

/** Puts a frame out by an interface, with the interface's tag. */
export function emitFrom(world: World, leg: InterfacePlan, frame: Frame, flight: Flight): void {
  world.notes.end(leg.interface.id);
  const { vlan } = leg.interface;
  const tagged = vlan === undefined ? frame : { ...frame, tags: [tagOf(vlan), ...frame.tags] };
  const { attachment } = leg;
  if (attachment.kind === "own") {
    if (attachment.bridgePort === undefined) throw new Error(`\`${attachment.id}\` belongs to no bridge`);
    crossBridge(world, attachment.bridgePort, tagged, flight);
    return;
  }
  noteCrossing(world, { at: attachment.id, ...(vlan === undefined ? {} : { vlan }) }, frame, flight);
  leaveBy(world, attachment, tagged, flight, frame.tags);
}

function tagOf(vlan: number): Frame["tags"][number] {
  return { tpid: TPID_CUSTOMER, priority: 0, dropEligible: false, vlan };
}

/** Puts a frame of a protocol of the link layer out by a port or a bond. */
export function speakFrom(world: World, attachment: Attachment, frame: Frame): void {
  leaveBy(world, attachment, frame, { journey: { descent: "sent", parent: undefined }, trail: undefined }, []);
}

/** Puts a frame on the medium of a port or a bond's member; `within`: its tags that are payload there. */
function leaveBy(world: World, attachment: Attachment, frame: Frame, flight: Flight, within: Frame["tags"]): void {
  const leaving = leave(attachment, frame, within, (bond, members, usual) =>
    world.picks.take("bond-member", bond, members, usual),
  );
  if ("stop" in leaving) {
    end(world, attachment.id, leaving.stop, frame, flight);
    return;
  }
  const { port } = leaving;
  const { medium } = port;
  if (medium === undefined) throw new Error(`\`${port.id}\` leads nowhere`);
  const detail = port === attachment ? "" : `member of ${attachment.id}`;
  const left = { ...flight, trail: after(flight.trail, { at: port.id, did: "leave", origin: port.origin, detail }) };
  // Nobody can listen in on the internet.
  if (!isBeyond(port.id)) world.capture?.frame(medium.link, world.nowUs, frame);
  for (const peer of medium.ports) {
    if (peer === port) continue;
    world.queue.add(world.nowUs + LINK_US, () => enterAt(world, peer, frame, left));
  }
}

/** A frame comes in at an attachment from outside; at an entrance from someone who sits right there. */
export function enterAt(world: World, attachment: Attachment, frame: Frame, flight: Flight, isEntrance = false): void {
  // A member speaks for itself: LACP is heard on idle ones, too.
  if (world.control !== undefined && frame.payload.kind === "lacp" && attachment.memberOf !== undefined) {
    world.control.lacpdu(attachment.id, frame.payload.lacpdu);
    return;
  }
  const origin = attachment.medium?.origin ?? attachment.origin;
  const entered = { ...flight, trail: after(flight.trail, { at: attachment.id, did: "enter", origin, detail: "" }) };
  const taker = takerOf(attachment, frame, isEntrance);
  if (taker.kind === "bridge") {
    crossBridge(world, taker.port, frame, entered);
    return;
  }
  if (taker.kind === "interface") noteArrival(world, taker.interface, taker.frame, entered);
  handOver(world, attachment.id, taker, frame, entered);
}

function noteArrival(world: World, leg: InterfacePlan, frame: Frame, flight: Flight): void {
  const { vlan } = leg.interface;
  noteCrossing(world, { at: leg.attachment.id, ...(vlan === undefined ? {} : { vlan }) }, frame, flight);
}

/** To the interface that takes a frame, or to its end. */
function handOver(world: World, at: Id, taker: Exclude<Taker, { kind: "bridge" }>, frame: Frame, flight: Flight): void {
  if (taker.kind === "nobody") {
    end(world, at, taker.stop, frame, flight);
    return;
  }
  world.notes.end(taker.interface.interface.id);
  world.takeIn(taker.interface, taker.frame, flight);
}

/** A frame comes in at a port of a bridge. */
function crossBridge(world: World, ingress: BridgePortPlan, frame: Frame, flight: Flight): void {
  const { bridge } = ingress;
  if (world.control !== undefined && frame.payload.kind === "bpdu" && bridge.bridge.tree !== undefined) {
    // One that arrives tagged is not heard as one.
    if (frame.tags.length === 0) world.control.bpdu(ingress.port.id, frame.payload.bpdu);
    return;
  }
  if (isRound(world, ingress, frame)) return;
  const table = tableOf(world, bridge);
  const crossing = bridgeFrame(ingress, frame, {
    find: (vlan, hardware) => table.find(vlan, hardware, world.nowUs) ?? world.findStation(bridge, vlan, hardware),
    habit: (plan) => habitOf(world, plan),
  });
  const crossed = { ...flight, trail: noteVlan(bridge, ingress, crossing, flight) };
  if (crossing.floods) world.notes.wiring(ingress.port.id);
  if (crossing.learns && !isHello(world, frame)) table.learn(crossing.vlan ?? -1, frame.source, ingress, world.nowUs);
  if (crossing.stop !== undefined) {
    end(world, ingress.port.on, crossing.stop, frame, crossed);
    return;
  }
  noteCrossing(world, { at: bridge.bridge.id, ...vlanOf(crossing) }, frame, crossed);
  if (crossing.exits.length === 0) noTaker(world, bridge, frame, crossed);
  for (const exit of crossing.exits) leaveBridge(world, exit, crossing, frame, crossed);
}

function noTaker(world: World, { bridge }: BridgePlan, frame: Frame, flight: Flight): void {
  end(world, bridge.id, { reason: "no-taker", origin: bridge.origin }, frame, flight);
}

function vlanOf({ vlan }: BridgeCrossing): { readonly vlan?: number } {
  return vlan === undefined || vlan < 0 ? {} : { vlan };
}

function noteVlan(
  bridge: BridgePlan,
  ingress: BridgePortPlan,
  crossing: BridgeCrossing,
  { trail }: Flight,
): Flight["trail"] {
  const { vlan, because } = crossing;
  if (vlan === undefined || because === undefined) return trail;
  const did = vlan < 0 ? "ignore-tags" : "classify";
  const detail = vlan < 0 ? `from ${ingress.port.on}` : `VLAN ${vlan} from ${ingress.port.on}`;
  return after(trail, { at: bridge.bridge.id, did, origin: because, detail });
}

function leaveBridge(world: World, exit: BridgeExit, crossing: BridgeCrossing, frame: Frame, flight: Flight): void {
  const { port, member, stop } = exit;
  if (stop !== undefined) {
    end(world, port.port.on, stop, frame, flight);
    return;
  }
  const origin = member?.origin ?? port.port.origin;
  const how = member === undefined ? "" : `, ${member.leaves}`;
  const detail = `${crossing.floods ? "to all: " : ""}${port.port.on}${how}`;
  const out = { ...flight, trail: after(flight.trail, { at: port.bridge.bridge.id, did: "lookup", origin, detail }) };
  if (!port.port.own) {
    // A bridge that takes its own tag off leaves what was within the frame, and that is payload (link seed 5717).
    const { tags } = exit.frame;
    leaveBy(world, port.attachment, exit.frame, out, member?.leaves === "untagged" ? tags : tags.slice(1));
    return;
  }
  const taker = ownTakerOf(port.attachment, exit.frame);
  if (taker.kind === "bridge") throw new Error(`\`${port.port.id}\` would loop inside its bridge`);
  handOver(world, port.port.id, taker, exit.frame, out);
}

/** What circles without end has told everyone what it says when it comes round. */
function isRound({ control }: World, { port }: BridgePortPlan, { payload, tags: [tag] }: Frame): boolean {
  return control !== undefined && payload.kind === "bpdu" && !control.isNew(port.id, tag?.vlan, payload.bpdu);
}

/** Frames that bridges send again and again: what is known must not rest on how often they do. */
function isHello({ control }: World, { payload }: Frame): boolean {
  return control !== undefined && payload.kind === "bpdu";
}

/** The address table of a bridge. */
export function tableOf(world: World, plan: BridgePlan): AddressTable {
  const known = world.tables.get(plan);
  if (known !== undefined) return known;
  // Less than no time: what was heard is forgotten at once.
  const table = new AddressTable(world.forgets ? -1 : plan.bridge.ageingSeconds);
  world.tables.set(plan, table);
  return table;
}

function habitOf(world: World, { bridge }: BridgePlan): "pass" | "eat" | undefined {
  const given = world.picks.given("unmanaged-habit", bridge.id);
  return given === "pass" || given === "eat" ? given : undefined;
}

function noteCrossing(
  world: World,
  point: { readonly at: Id; readonly vlan?: number },
  frame: Frame,
  flight: Flight,
): void {
  const packet = packetIn(frame);
  if (packet !== undefined) world.journal.crossings.push({ ...flight, point, packet });
}

/** Writes down the end of a copy of a frame. */
export function end(world: World, at: Id, stop: Stop, frame: Frame, { journey, trail }: Flight): void {
  const { origin } = stop;
  world.notes.end(at);
  const fate =
    "note" in stop
      ? ({ at, origin, end: "unknown", note: stop.note } as const)
      : ({ at, origin, end: "dropped", reason: stop.reason } as const);
  world.journal.endings.push({ journey, fate, trail, packet: packetIn(frame), asked: undefined });
}
