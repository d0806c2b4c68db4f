/**
 * The broadcast domains of a site at rest as one graph, for whoever asks what reaches what without moving a frame: nodes
 * are the domains of bridges and interfaces, edges the crossings between them.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Id, Network, Pick as Option, Settled } from "../network/index.ts";
import { choiceId } from "./choices.ts";
import { type Crossing, crossedAs, crossingsFromLeg, crossingsFromPort, type DomainEnd } from "./crossings.ts";
import { sendersOf, type Wires } from "./exits.ts";
import { areIsolated } from "./membership.ts";
import { type Plant, plantOf } from "./plant.ts";

/** The graph. Inside a bridge a domain goes from the port where it came in to every other port, isolated ones left out. */
export type Domains = {
  /** By the bridge port or interface where they begin, in document order. */
  readonly crossings: readonly Crossing[];
};

/** A domain entered: the place and its number there (0 for an interface or for untagged frames of an unmanaged switch). */
export type DomainPoint = {
  /** The bridge port or interface where it came in. */
  readonly at: DomainEnd;
  /** Its number there. */
  readonly domain: number;
};

/** What is behind a point, and what keeps the rest out. */
export type DomainReach = {
  /** Every point, in the order of distance, the first one included. */
  readonly points: readonly DomainPoint[];
  /** Crossings that stopped the domain, with the line to blame. */
  readonly stopped: readonly { readonly crossing: Crossing; readonly origin: Origin }[];
};

/** The wires of a settled site: who has carrier, which members carry, with bonds held to a member where a pick says so. */
function wiresOf(network: Network, settled: Settled): Wires {
  const plant = plantOf(network);
  const down = new Set(settled.down);
  const live = <Value extends { readonly id: Id }>(parts: readonly Value[]) =>
    new Set(parts.filter(({ id }) => !down.has(id)).map(({ id }) => id));
  return {
    plant,
    carrier: { links: live(network.links), ports: live(network.ports), choices: [] },
    bonds: new Map(settled.bonds.map((bond) => [bond.bond, bond])),
    members: pickedMembers(plant, settled.picks),
  };
}

/** Members that flows are held to, by bond. */
function pickedMembers(plant: Plant, picks: readonly Option[]): ReadonlyMap<Id, Id> {
  const members = new Map<Id, Id>();
  for (const bond of plant.network.bonds) {
    const pick = picks.find(({ choice }) => choice === choiceId("bond-member", bond.id));
    if (pick) members.set(bond.id, pick.option);
  }
  return members;
}

type Mapped = Pick<Settled, "bonds" | "blocked" | "picks"> & { readonly network: Network; readonly map: DomainMap };

const maps = new WeakMap<Settled["down"], Mapped>();

/**
 * The graph of a settled site, ready to be walked; under its picks each bond sends by the member picked. Leases leave it as it is, so
 * a site with them has the one that it had without.
 */
export function domainMapOf(network: Network, settled: Settled): DomainMap {
  const { down, bonds, blocked, picks } = settled;
  const known = maps.get(down);
  const isSame = known?.bonds === bonds && known.blocked === blocked && known.picks === picks;
  if (isSame && known.network === network) return known.map;
  const blocks = new Map(settled.blocked.map(({ port, origin }) => [port, origin]));
  const wires = wiresOf(network, settled);
  const map = mapOn(wires.plant, domainsOn(wires, blocks).crossings);
  maps.set(down, { network, bonds, blocked, picks, map });
  return map;
}

/** The graph over given wires. */
export function domainsOn(wires: Wires, blocked: ReadonlyMap<Id, Origin>): Domains {
  const { plant } = wires;
  const crossings: Crossing[] = [];
  for (const place of plant.places.values()) {
    if (place.port.own || sendersOf(wires, place.port.on).length > 0) {
      crossings.push(...crossingsFromPort(wires, place, blocked));
    }
  }
  for (const leg of plant.legs.values()) crossings.push(...crossingsFromLeg(wires, leg, blocked));
  return { crossings };
}

/** A graph ready to be walked. */
export type DomainMap = {
  /** Crossings by the bridge port or interface where they begin. */
  readonly from: ReadonlyMap<Id, readonly Crossing[]>;
  /** The index that the graph was made from. */
  readonly plant: Plant;
};

/** Makes a graph ready to be walked. */
export function mapOn(plant: Plant, crossings: readonly Crossing[]): DomainMap {
  const from = new Map<Id, Crossing[]>();
  for (const crossing of crossings) {
    const id = endId(crossing.from);
    const group = from.get(id);
    if (group) group.push(crossing);
    else from.set(id, [crossing]);
  }
  return { from, plant };
}

/** Id of the bridge port or interface that an end is. */
export function endId(end: DomainEnd): Id {
  return end.kind === "bridge" ? end.port : end.interface;
}

/** The crossings that a frame may take next from where it is: out of the interface, or out of the bridge's other ports. */
export function crossingsOnward({ from, plant }: DomainMap, { at }: DomainPoint): Crossing[] {
  if (at.kind === "interface") return [];
  const here = plant.places.get(at.port);
  if (!here) return [];
  return here.bridge.ports.flatMap(({ id }) => {
    const place = plant.places.get(id);
    return !place || id === at.port || areIsolated(plant, place, here) ? [] : (from.get(id) ?? []);
  });
}

/** Everything that a broadcast frame reaches which has just entered at a point, or which an interface sends. */
export function reachOf(map: DomainMap, start: DomainPoint): DomainReach {
  const points = [start];
  const stopped: { crossing: Crossing; origin: Origin }[] = [];
  const seen = new Set([pointKey(start)]);
  // Points found on the way are appended and so walked too.
  for (const [index, point] of points.entries()) {
    const isSender = index === 0 && point.at.kind === "interface";
    const crossings = isSender ? (map.from.get(endId(point.at)) ?? []) : crossingsOnward(map, point);
    for (const crossing of crossings) {
      const domain = crossedAs(crossing, point.domain);
      if (domain === undefined) {
        const barrier = barrierOf(crossing, point.domain);
        if (barrier) stopped.push({ crossing, origin: barrier });
        continue;
      }
      const next = { at: crossing.to, domain };
      if (seen.has(pointKey(next))) continue;
      seen.add(pointKey(next));
      points.push(next);
    }
  }
  return { points, stopped };
}

function barrierOf({ stops }: Crossing, domain: number): Origin | undefined {
  const value = BigInt(domain);
  return stops.find(({ domains }) => domains.some(([low, high]) => low <= value && value <= high))?.origin;
}

/** One text for a point: its bridge port or interface, and its number. */
export function pointKey({ at, domain }: DomainPoint): string {
  return `${endId(at)} ${domain}`;
}
