/**
 * The network by its ids: what is found again and again while settling, looked up once. A private cache; it is kept with
 * the network it was made from, so that settling one network under many conditions builds it once.
 */
import type { Bond, Bridge, BridgePort, Device, Id, Interface, Link, Network, Port, Stack } from "../network/index.ts";

/** A port of a bridge with its bridge. */
export type BridgePlace = {
  /** The bridge. */
  readonly bridge: Bridge;
  /** Its port. */
  readonly port: BridgePort;
  /** Number in the order of joining, from 1. */
  readonly number: number;
};

/** An interface with its stack. */
export type Leg = {
  /** The stack. */
  readonly stack: Stack;
  /** Its interface. */
  readonly interface: Interface;
};

/** Which steps a bridge takes, for questions that do not depend on their order. */
export type BridgeHabits = {
  /** All tags pass unchanged, in one domain for each tag (`ignore-tags`). */
  readonly ignoresTags: boolean;
  /** Looks at the kind of frame (`admit`). */
  readonly admits: boolean;
  /** Looks at membership on entry, where the port filters (`ingress-member`). */
  readonly filtersIngress: boolean;
  /** Keeps ports of one group apart (`isolation`). */
  readonly isolates: boolean;
  /** What becomes of spanning-tree frames: `consume` where the bridge runs a tree. */
  readonly spanningTree: "consume" | "pass" | "eat" | "unknown";
};

/** The index. */
export type Plant = {
  /** What the index was made from. */
  readonly network: Planted;
  /** By id. */
  readonly devices: ReadonlyMap<Id, Device>;
  /** By id. */
  readonly ports: ReadonlyMap<Id, Port>;
  /** By id. */
  readonly bonds: ReadonlyMap<Id, Bond>;
  /** Links by each of their two ports. */
  readonly linksAt: ReadonlyMap<Id, readonly Link[]>;
  /** Bond by member port. */
  readonly bondOf: ReadonlyMap<Id, Bond>;
  /** Bridge port by attachment. */
  readonly placeAt: ReadonlyMap<Id, BridgePlace>;
  /** Bridge port by its own id. */
  readonly places: ReadonlyMap<Id, BridgePlace>;
  /** Interfaces by attachment, in order. */
  readonly legsAt: ReadonlyMap<Id, readonly Leg[]>;
  /** Interface by its id. */
  readonly legs: ReadonlyMap<Id, Leg>;
  /** By bridge id. */
  readonly habits: ReadonlyMap<Id, BridgeHabits>;
};

/** What of a network is settled: groups are of no account, and of services only what clients hear of them later. */
type Planted = Pick<Network, (typeof PLANTED)[number]>;

const PLANTED = ["devices", "ports", "bonds", "links", "bridges", "stacks", "tables"] as const;

/** By links: whatever fails, they are those of the whole site. */
const PLANTS = new WeakMap<Network["links"], Plant[]>();

/** The index of a network; the same one for networks of the same parts. */
export function plantOf(network: Network): Plant {
  const beside = PLANTS.get(network.links) ?? [];
  PLANTS.set(network.links, beside);
  const known = beside.find((plant) => PLANTED.every((kind) => plant.network[kind] === network[kind]));
  if (known) return known;
  const plant = buildPlant(network);
  beside[Math.min(beside.length, MOST_PLANTS - 1)] = plant;
  return plant;
}

/** The whole site's, which stays, and the last one that differs from it: without some device. */
const MOST_PLANTS = 2;

function buildPlant(network: Network): Plant {
  const places = network.bridges.flatMap((bridge) =>
    bridge.ports.map((port, index): BridgePlace => ({ bridge, port, number: index + 1 })),
  );
  const legs = network.stacks.flatMap((stack) => stack.interfaces.map((leg): Leg => ({ stack, interface: leg })));
  return {
    network,
    devices: byId(network.devices),
    ports: byId(network.ports),
    bonds: byId(network.bonds),
    linksAt: groupBy(network.links, ({ ends }) => ends),
    bondOf: new Map(network.bonds.flatMap((bond) => bond.members.map((member) => [member, bond] as const))),
    placeAt: new Map(places.map((place) => [place.port.on, place])),
    places: new Map(places.map((place) => [place.port.id, place])),
    legsAt: groupBy(legs, (leg) => [leg.interface.on]),
    legs: new Map(legs.map((leg) => [leg.interface.id, leg])),
    habits: new Map(network.bridges.map((bridge) => [bridge.id, habitsOf(bridge)])),
  };
}

function byId<Value extends { readonly id: Id }>(values: readonly Value[]): ReadonlyMap<Id, Value> {
  return new Map(values.map((value) => [value.id, value]));
}

function groupBy<Value>(
  values: readonly Value[],
  keysOf: (value: Value) => readonly Id[],
): ReadonlyMap<Id, readonly Value[]> {
  const groups = new Map<Id, Value[]>();
  for (const value of values) {
    for (const key of keysOf(value)) {
      const group = groups.get(key);
      if (group) group.push(value);
      else groups.set(key, [value]);
    }
  }
  return groups;
}

function habitsOf(bridge: Bridge): BridgeHabits {
  const has = (op: string) => bridge.steps.some((step) => step.op === op);
  const reserved = bridge.steps.find((step) => step.op === "reserved");
  return {
    ignoresTags: has("ignore-tags"),
    admits: has("admit"),
    filtersIngress: has("ingress-member"),
    isolates: has("isolation"),
    spanningTree: bridge.tree ? "consume" : (reserved?.spanningTree ?? "pass"),
  };
}
