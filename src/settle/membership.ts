/**
 * One frame into a bridge and out of it, as far as VLANs go. A domain of a bridge that obeys tags is a VLAN number; of one
 * that ignores them the tag that frames keep, 0 for untagged ones. `wire` is the tag on the cable, 0 for none.
 */
import { rangesContain } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { BridgePort, DropReason, Member } from "../network/index.ts";
import type { BridgePlace, Plant } from "./plant.ts";

/** Why a frame goes no further, and the line that says so. */
export type Refused = {
  /** The reason. */
  readonly refused: DropReason;
  /** The line. */
  readonly origin: Origin;
};

/** A number (domain or tag) with the lines that made it so. */
export type Passed = {
  /** Absent: it passed. */
  readonly refused?: undefined;
  /** The domain entered, or the tag on the wire. */
  readonly as: number;
  /** The lines, in the order they were met. */
  readonly why: readonly Origin[];
};

/** Into which domain a frame with this tag gets at a port. */
export function enterBridge(plant: Plant, { bridge, port }: BridgePlace, wire: number): Passed | Refused {
  const habits = plant.habits.get(bridge.id);
  if (habits?.admits && !admitsKind(port, wire)) return { refused: "kind-not-admitted", origin: port.admit.origin };
  if (habits?.ignoresTags) return { as: wire, why: [port.origin] };
  const vlan = wire === 0 ? port.untagged.vlan : wire;
  if (vlan === "refused") return { refused: "no-port-vlan", origin: port.untagged.origin };
  const member = memberOf(port, vlan);
  if (!member && habits?.filtersIngress && port.ingressFilter) return { refused: "not-member", origin: port.otherwise };
  return { as: vlan, why: [...(wire === 0 ? [port.untagged.origin] : []), ...(member ? [member.origin] : [])] };
}

function admitsKind(port: BridgePort, wire: number): boolean {
  const { kinds } = port.admit;
  return kinds === "all" || (kinds === "tagged") === wire > 0;
}

/** With which tag a frame of this domain leaves at a port. */
export function leaveBridge(plant: Plant, { bridge, port }: BridgePlace, domain: number): Passed | Refused {
  if (plant.habits.get(bridge.id)?.ignoresTags) return { as: domain, why: [port.origin] };
  const member = memberOf(port, domain);
  if (!member) return { refused: "not-member", origin: port.otherwise };
  return { as: member.leaves === "tagged" ? domain : 0, why: [member.origin] };
}

/** The entry by which a port carries a VLAN; undefined: it does not. */
export function memberOf(port: BridgePort, vlan: number): Member | undefined {
  return port.members.find(({ vlans }) => rangesContain(vlans, BigInt(vlan)));
}

/** Whether a bridge keeps two of its ports apart: one isolation group. */
export function areIsolated(plant: Plant, a: BridgePlace, b: BridgePlace): boolean {
  if (a.port.isolation === undefined || a.port.isolation !== b.port.isolation) return false;
  return plant.habits.get(a.bridge.id)?.isolates ?? false;
}
