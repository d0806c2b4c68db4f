/**
 * Where every station of a site sits, as bridges would know it once each of them had spoken to everyone, in document
 * order. A frame to a station then goes straight to it instead of through a thousand ports.
 */
import type { Hardware } from "../address/index.ts";
import { hearingsOf } from "./audience.ts";
import type { BridgePlan, BridgePortPlan, InterfacePlan, Plan } from "./plan.ts";

/** Ports by bridge and VLAN, for one hardware address. */
type Places = ReadonlyMap<BridgePlan, ReadonlyMap<number, BridgePortPlan>>;

type Stations = {
  readonly legs: ReadonlyMap<Hardware, readonly InterfacePlan[]>;
  readonly places: Map<Hardware, Places>;
};

const known = new WeakMap<Plan, Stations>();

/** The port by which a bridge hears a station in a VLAN (-1: tags are ignored); undefined: it does not. */
export function placeOf(plan: Plan, bridge: BridgePlan, vlan: number, hardware: Hardware): BridgePortPlan | undefined {
  const stations = known.get(plan) ?? { legs: legsByHardware(plan), places: new Map() };
  known.set(plan, stations);
  const places = stations.places.get(hardware) ?? placesOf(plan, stations.legs.get(hardware) ?? []);
  stations.places.set(hardware, places);
  return places.get(bridge)?.get(vlan);
}

function legsByHardware({ interfaces }: Plan): Stations["legs"] {
  const legs = new Map<Hardware, InterfacePlan[]>();
  for (const leg of interfaces.values()) {
    const { hardware } = leg.interface;
    legs.set(hardware, [...(legs.get(hardware) ?? []), leg]);
  }
  return legs;
}

/** Who speaks last of several with one address is where all of them are looked for. */
function placesOf(plan: Plan, legs: readonly InterfacePlan[]): Places {
  const places = new Map<BridgePlan, Map<number, BridgePortPlan>>();
  for (const { port, vlan } of legs.flatMap((leg) => hearingsOf(plan, leg))) {
    const byVlan = places.get(port.bridge) ?? new Map<number, BridgePortPlan>();
    places.set(port.bridge, byVlan.set(vlan, port));
  }
  return places;
}
