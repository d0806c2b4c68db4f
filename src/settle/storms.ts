/**
 * Loops that nothing cuts. A frame never leaves by the port it came in by, so a broadcast circles only where links form a
 * ring, and between two of them: what comes round one in another VLAN goes back the way it came. Only there domains are followed
 * one by one, through every change of VLAN on the way. A ring of domains is a storm, and all that a frame of it reaches is lost with it.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Id, Link, Storm } from "../network/index.ts";
import { type Crossing, crossedAs, crossingsFromPort } from "./crossings.ts";
import {
  crossingsOnward,
  type DomainMap,
  type DomainPoint,
  domainsOn,
  endId,
  mapOn,
  pointKey,
  reachOf,
} from "./domains.ts";
import { exitsOf, type Wires } from "./exits.ts";
import type { BridgePlace } from "./plant.ts";
import { cyclicParts, ringEdges } from "./rings.ts";

/** Every storm, each loop once; `blocked` are ports that the tree blocks. */
export function stormsOf(wires: Wires, blocked: ReadonlyMap<Id, Origin>): Storm[] {
  const places = ringPlaces(wires, blocked);
  if (places.length === 0) return [];
  const crossings = places.flatMap((place) => crossingsFromPort(wires, place, blocked));
  const map = mapOn(wires.plant, crossings);
  const points = startsOf(crossings);
  const loops = loopsOf(map, points);
  if (loops.length === 0) return [];
  const whole = mapOn(wires.plant, domainsOn(wires, blocked).crossings);
  return mergeLoops(loops.map((loop) => stormOf(wires, whole, loop)));
}

/** Ports of bridges on links that form a ring, or lead from one to another. */
function ringPlaces(wires: Wires, blocked: ReadonlyMap<Id, Origin>): BridgePlace[] {
  const { plant } = wires;
  const numbers = new Map(plant.network.bridges.map(({ id }, index) => [id, index]));
  const pairs = new Map<string, readonly [BridgePlace, BridgePlace]>();
  for (const place of plant.places.values()) {
    if (place.port.own || blocked.has(place.port.id)) continue;
    for (const { into, idle } of exitsOf(wires, place.port.on)) {
      const far = plant.placeAt.get(into);
      if (!far || far.port.own || idle || blocked.has(far.port.id)) continue;
      const [a, b] = place.port.id < far.port.id ? [place, far] : [far, place];
      pairs.set(`${a.port.id} ${b.port.id}`, [a, b]);
    }
  }
  const list = [...pairs.values()];
  const number = ({ bridge }: BridgePlace) => numbers.get(bridge.id) ?? 0;
  const rings = ringEdges(
    numbers.size,
    list.map(([a, b]) => ({ a: number(a), b: number(b) })),
  );
  const found = new Map(
    list.filter((_, index) => rings.has(index)).flatMap((pair) => pair.map((place) => [place.port.id, place])),
  );
  return [...found.values()];
}

/** A point behind every passage: its domains fare alike, so the lowest stands for them; also every number that others become. */
function startsOf(crossings: readonly Crossing[]): DomainPoint[] {
  const numbers = new Set<number>();
  for (const { passes } of crossings) {
    for (const { domains, becomes } of passes) {
      for (const [low] of domains) numbers.add(Number(low));
      if (becomes !== "same") numbers.add(becomes);
    }
  }
  const points = new Map<string, DomainPoint>();
  for (const crossing of crossings) {
    for (const number of numbers) {
      const domain = crossedAs(crossing, number);
      if (domain === undefined || crossing.to.kind !== "bridge") continue;
      const point = { at: crossing.to, domain };
      points.set(pointKey(point), point);
    }
  }
  return [...points.values()];
}

/** Groups of points from which a frame comes back to where it was. */
function loopsOf(map: DomainMap, points: readonly DomainPoint[]): DomainPoint[][] {
  const all = [...points];
  const numbers = new Map(all.map((point, index) => [pointKey(point), index]));
  const successors = all.map((point) => nextOf(map, point).flatMap((next) => numbers.get(pointKey(next)) ?? []));
  return cyclicParts(successors).map((part) => part.sort((a, b) => a - b).flatMap((index) => all[index] ?? []));
}

function nextOf(map: DomainMap, point: DomainPoint): DomainPoint[] {
  return stepsOf(map, point).map(({ next }) => next);
}

/** What a frame does next: over which crossing, to which point of a bridge. */
function stepsOf(map: DomainMap, point: DomainPoint): { readonly crossing: Crossing; readonly next: DomainPoint }[] {
  return crossingsOnward(map, point).flatMap((crossing) => {
    const domain = crossedAs(crossing, point.domain);
    return domain === undefined || crossing.to.kind !== "bridge"
      ? []
      : [{ crossing, next: { at: crossing.to, domain } }];
  });
}

/** Ports that a loop leaves and enters bridges by: the same for both directions round it. */
function portsOf(map: DomainMap, loop: readonly DomainPoint[]): Id[] {
  const inside = new Set(loop.map(pointKey));
  const steps = loop.flatMap((point) => stepsOf(map, point)).filter(({ next }) => inside.has(pointKey(next)));
  return [...new Set(steps.flatMap(({ crossing }) => [endId(crossing.from), endId(crossing.to)]))].sort();
}

function stormOf(wires: Wires, whole: DomainMap, loop: readonly DomainPoint[]): Storm {
  const ports = portsOf(whole, loop);
  const domains = new Map<string, Storm["domains"][number]>();
  // Every point of a loop is behind every other, so the first one's reach is the reach of all.
  for (const { at, domain } of loop.slice(0, 1).flatMap((point) => reachOf(whole, point).points)) {
    if (at.kind !== "bridge") continue;
    const hit = wires.plant.habits.get(at.bridge)?.ignoresTags
      ? { bridge: at.bridge }
      : { bridge: at.bridge, vlan: domain };
    domains.set(domainKey(hit), hit);
  }
  return { ports, domains: [...domains.values()].sort(byDomain), origin: originOf(wires, ports) };
}

function domainKey({ bridge, vlan }: Storm["domains"][number]): string {
  return `${bridge} ${vlan}`;
}

function byDomain(a: Storm["domains"][number], b: Storm["domains"][number]): number {
  if (a.bridge !== b.bridge) return a.bridge < b.bridge ? -1 : 1;
  return (a.vlan ?? 0) - (b.vlan ?? 0);
}

/** The two directions of a ring, and its other VLANs, are one storm: same ports, all domains. */
function mergeLoops(storms: readonly Storm[]): Storm[] {
  const merged = new Map<string, Storm>();
  for (const storm of storms) {
    const key = storm.ports.join(" ");
    const before = merged.get(key);
    const domains = new Map(
      [...(before?.domains ?? []), ...storm.domains].map((domain) => [domainKey(domain), domain]),
    );
    merged.set(key, { ...storm, domains: [...domains.values()].sort(byDomain) });
  }
  return [...merged.values()].sort((a, b) => (a.ports.join(" ") < b.ports.join(" ") ? -1 : 1));
}

/** The loop is closed by the cable written last; the others lead to it. */
function originOf(wires: Wires, ports: readonly Id[]): Origin {
  const on = new Set(ports.map((port) => wires.plant.places.get(port)?.port.on ?? ""));
  const links = wires.plant.network.links.filter(
    ({ id, ends }) => wires.carrier.links.has(id) && ends.some((end) => on.has(wires.plant.bondOf.get(end)?.id ?? end)),
  );
  const closing = [...links].sort(byPlace).at(-1);
  if (!closing) throw new Error(`a storm over ${ports.join(", ")} runs over no link`);
  const others = links.filter((link) => link !== closing).map(({ origin }) => origin.span);
  return { ...closing.origin, through: others };
}

function byPlace(a: Link, b: Link): number {
  return a.origin.span.file - b.origin.span.file || a.origin.span.start - b.origin.span.start;
}
