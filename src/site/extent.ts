/**
 * Where a network goes: a breadth-first walk over bridging domains and cables (see `Extent`). It begins where the
 * network is declared: its VLAN in every bridge, and the interfaces that say they are in it. It goes on into unmanaged
 * switches and into VLANs that no network claims, so that what is behind a switch as unboxed belongs to the network
 * that is plugged into it; it stops at other networks' VLANs, so that a leak between two networks stays visible as one.
 */
import type { Configured } from "./configured.ts";
import type { RackInterface } from "./interfaces.ts";
import type { Extent } from "./site.ts";
import type { SiteMembership } from "./site-switching.ts";
import type { Attachment, Wiring } from "./wiring.ts";
import { tunnelsOf } from "./written-tunnels.ts";

/** A domain: a VLAN of a bridge, or (0) the whole of a bridge that ignores tags. */
type Domain = { readonly device: Configured; readonly vlan: number };

const WHOLE = 0; // no VLAN has this number

/** What a walk begins with. */
export type Start = {
  /** VLAN number of the network; absent: none. */
  readonly vlan?: number;
  /** Interfaces declared in it, with their devices. */
  readonly interfaces: readonly { readonly device: Configured; readonly interface: RackInterface }[];
  /** Follows the wires alone: into every VLAN, and to interfaces of other networks too. */
  readonly physical: boolean;
};

/** What is reached, while walking. */
type Walk = {
  readonly wiring: Wiring;
  /** VLAN numbers of networks; none of them but its own is entered. */
  readonly claimed: ReadonlySet<number>;
  readonly own: number | undefined;
  readonly physical: boolean;
  /** By the wires alone, who speaks PPPoE meets only whoever does, and who does not only whoever does not. */
  readonly inSession: boolean;
  readonly seen: Map<string, Domain>;
  readonly reached: Map<string, { readonly device: string; readonly interface: string }>;
  readonly queue: Domain[];
};

/** Follows a network from where it is declared. */
export function extentOf(start: Start, wiring: Wiring, claimed: ReadonlySet<number>): Extent {
  const { vlan: own, physical } = start;
  const inSession = start.interfaces[0]?.interface.session !== undefined;
  const walk: Walk = { wiring, claimed, own, physical, inSession, seen: new Map(), reached: new Map(), queue: [] };
  if (start.vlan !== undefined) for (const device of wiring.devices.values()) enterOwn(device, start.vlan, walk);
  for (const { device, interface: one } of start.interfaces) leaveInterface(device, one, walk);
  // The queue grows while it is read.
  for (const domain of walk.queue) leaveDomain(domain, walk);
  return inOrder(walk);
}

function inOrder({ wiring, seen, reached }: Walk): Extent {
  const at = (device: string): number => wiring.order.get(device) ?? 0;
  const domains = [...seen.values()]
    .map(({ device, vlan }) => ({ device: device.rack.name, ...(vlan === WHOLE ? {} : { vlan }) }))
    .sort((a, b) => at(a.device) - at(b.device) || (a.vlan ?? WHOLE) - (b.vlan ?? WHOLE));
  const interfaces = [...reached.values()].sort((a, b) => at(a.device) - at(b.device));
  return { domains, interfaces };
}

/** The network's own VLAN, wherever a bridge carries it. */
function enterOwn(device: Configured, vlan: number, walk: Walk): void {
  const { bridge } = device.switched;
  if (bridge === undefined || bridge.tags.value === "ignored") return;
  const carried =
    bridge.ports.some(({ membership }) => takesIn(membership, vlan)) ||
    (bridge.own !== undefined && takesIn(bridge.own, vlan)) ||
    device.ssids.some((ssid) => ssid.vlan.value === vlan);
  if (carried) enter({ device, vlan }, walk);
}

/** Whether frames of a VLAN leave by a port, or enter the VLAN by it. */
function takesIn(membership: SiteMembership, vlan: number): boolean {
  return membership.portVlan.value === vlan || leavesOf(membership, vlan) !== undefined;
}

/** How frames of a VLAN leave a port; undefined: they do not. */
function leavesOf({ members }: SiteMembership, vlan: number): "tagged" | "untagged" | undefined {
  return members.find(({ first, last }) => first <= vlan && vlan <= last)?.leaves;
}

function enter(domain: Domain, { seen, queue }: Walk): void {
  const key = `${domain.device.rack.name}:${domain.vlan}`;
  if (seen.has(key)) return;
  seen.set(key, domain);
  queue.push(domain);
}

function reach(device: Configured, one: RackInterface, { reached }: Walk): void {
  const reference = { device: device.rack.name, interface: one.name };
  reached.set(`${reference.device}:${reference.interface}`, reference);
}

function leaveInterface(device: Configured, one: RackInterface, walk: Walk): void {
  reach(device, one, walk);
  const { bridge } = device.switched;
  if (one.footing.on === "tunnel") crossTunnel(device, one.footing.port, walk);
  else if (one.footing.on === "port") cross({ device, name: one.footing.port }, one.vlan?.value, walk);
  else if (bridge?.tags.value === "ignored") enter({ device, vlan: WHOLE }, walk);
  else if (one.vlan !== undefined) enterIfFree(device, one.vlan.value, walk);
  else if (typeof bridge?.own?.portVlan.value === "number") enterIfFree(device, bridge.own.portVlan.value, walk);
}

/** To the interfaces on the far ends that are in no network of their own. */
function crossTunnel({ rack }: Configured, name: string, walk: Walk): void {
  for (const { to } of tunnelsOf(rack).get(name)?.peers.value ?? []) {
    const far = walk.wiring.devices.get(to.value.name);
    if (far === undefined || to.value.part === undefined) continue;
    for (const one of walk.wiring.interfacesOn(far.rack.name, to.value.part)) found(far, one, walk);
  }
}

function enterIfFree(device: Configured, vlan: number, walk: Walk): void {
  if (walk.physical || vlan === walk.own || !walk.claimed.has(vlan)) enter({ device, vlan }, walk);
}

/** Out of every port of the domain, to the device's own interfaces in it, and to clients of its radio networks. */
function leaveDomain({ device, vlan }: Domain, walk: Walk): void {
  const { wiring } = walk;
  const { bridge } = device.switched;
  for (const port of bridge?.ports ?? []) {
    const leaves = vlan === WHOLE ? "untagged" : leavesOf(port.membership, vlan);
    if (leaves !== undefined) cross({ device, name: port.name }, leaves === "tagged" ? vlan : undefined, walk);
  }
  const own = vlan === WHOLE ? "untagged" : bridge?.own && leavesOf(bridge.own, vlan);
  const tag = own === "tagged" ? vlan : undefined;
  if (own !== undefined)
    for (const one of wiring.interfacesOn(device.rack.name, undefined))
      if (one.vlan?.value === tag) found(device, one, walk);
  for (const ssid of device.ssids) {
    if (vlan === WHOLE || ssid.vlan.value === vlan)
      for (const client of wiring.clients(ssid.name)) arrive(client, undefined, walk);
  }
}

function cross(from: Attachment, tag: number | undefined, walk: Walk): void {
  for (const far of walk.wiring.beyond(from)) arrive(far, tag, walk);
}

/** What takes a frame at an attachment, in the order of kernel fact 36. */
function arrive({ device, name }: Attachment, tag: number | undefined, walk: Walk): void {
  const standing = walk.wiring.interfacesOn(device.rack.name, name);
  const tagged = tag === undefined ? undefined : standing.find((one) => one.vlan?.value === tag);
  const port = walk.wiring.bridgePort(device.rack.name, name);
  const untagged = tag === undefined ? standing.find((one) => one.vlan === undefined) : undefined;
  if (tagged !== undefined) found(device, tagged, walk);
  else if (port !== undefined) enterBridge(device, port.membership, tag, walk);
  else if (untagged !== undefined) found(device, untagged, walk);
}

/** An interface is reached unless it is declared in a network; then that one holds. */
function found(device: Configured, one: RackInterface, walk: Walk): void {
  if (walk.physical && (one.session !== undefined) !== walk.inSession) return;
  if (walk.physical || one.network === undefined) reach(device, one, walk);
}

function enterBridge(device: Configured, membership: SiteMembership, tag: number | undefined, walk: Walk): void {
  if (device.switched.bridge?.tags.value === "ignored") {
    // Tagged frames cross it too, but towards VLANs that the walk began with.
    if (tag === undefined) enter({ device, vlan: WHOLE }, walk);
    return;
  }
  const vlan = vlanAtEntry(membership, tag);
  if (vlan !== undefined) enterIfFree(device, vlan, walk);
}

/** VLAN that a frame is put into at a port; undefined: it is refused. */
function vlanAtEntry({ portVlan, admit, members }: SiteMembership, tag: number | undefined): number | undefined {
  if (tag !== undefined) {
    const member = members.some(({ first, last }) => first <= tag && tag <= last);
    return member && admit.value !== "untagged" ? tag : undefined;
  }
  return admit.value === "tagged" || portVlan.value === "refused" ? undefined : portVlan.value;
}
