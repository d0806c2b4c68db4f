/**
 * What keeps two interfaces apart on the link layer: the cable that is down, the list that lacks a network, or the port
 * that puts one side into another VLAN. The way between them is the shortest over all cables, whatever their VLANs; a
 * question walks it from one side and an answer from the other, until each is stopped.
 */
import { rangesContain } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Id, Network, Settled } from "../network/index.ts";
import {
  type Crossing,
  crossedAs,
  type DomainMap,
  domainMapOf,
  endId,
  memberOf,
  type Plant,
  plantOf,
  reachOf,
  settle,
} from "../settle/index.ts";
import type { InterfacePlan, Plan } from "./plan.ts";

/** Lines that keep an asker from an owner of an address, the primary one first; none where they hear one another. */
export function gapBetween(plan: Plan, asker: InterfacePlan, owner: InterfacePlan): readonly Origin[] {
  const map = domainMapOf(plan.network, plan.settled);
  const way = wayOver(map, asker, owner);
  const back = wayOver(map, owner, asker);
  if (way === undefined || back === undefined) return cutBetween(plan, asker, owner);
  return stopsBetween(plan, map, { asker, owner, there: walk(map, asker, way), back: walk(map, owner, back) });
}

/** Crossings from one interface to another, whatever passes them; undefined: no cable leads there. */
function wayOver(map: DomainMap, from: InterfacePlan, to: InterfacePlan): readonly Crossing[] | undefined {
  type Step = { readonly crossing: Crossing; readonly before: Step | undefined };
  const start = map.from.get(from.interface.id) ?? [];
  const steps: Step[] = start.map((crossing) => ({ crossing, before: undefined }));
  const seen = new Set<Id>();
  // Steps found on the way are appended and so walked too.
  for (const step of steps) {
    const { to: end } = step.crossing;
    if (end.kind === "interface") {
      if (end.interface === to.interface.id) return listOf(step);
      continue;
    }
    if (seen.has(end.bridge)) continue;
    seen.add(end.bridge);
    const ports = map.plant.places.get(end.port)?.bridge.ports ?? [];
    for (const port of ports) {
      if (port.id === end.port) continue;
      for (const crossing of map.from.get(port.id) ?? []) steps.push({ crossing, before: step });
    }
  }
  return undefined;

  function listOf(last: Step): Crossing[] {
    const list: Crossing[] = [];
    for (let at: Step | undefined = last; at !== undefined; at = at.before) list.push(at.crossing);
    return list.reverse();
  }
}

/** How far a frame gets on a way. */
type Walk = {
  /** Domain by bridge. */
  readonly domains: ReadonlyMap<Id, number>;
  /** Where the VLAN was last decided by a port: the line that did. */
  readonly classified: Origin | undefined;
  /** The VLAN that it has at last; undefined: it has none yet. */
  readonly last: number | undefined;
  /** The line that stops it; undefined: nothing does. */
  readonly stop: Origin | undefined;
};

function walk(map: DomainMap, leg: InterfacePlan, way: readonly Crossing[]): Walk {
  const domains = new Map<Id, number>();
  let domain = 0;
  let last = leg.interface.vlan;
  let classified: Origin | undefined;
  for (const crossing of way) {
    const next = crossedAs(crossing, domain);
    if (next === undefined) return { domains, classified, last, stop: barrierOf(map, crossing, domain) };
    if (crossing.to.kind === "bridge") {
      domains.set(crossing.to.bridge, next);
      classified = classifier(crossing, domain) ?? classified;
      last = next === 0 ? last : next;
    }
    domain = next;
  }
  return { domains, classified, last, stop: undefined };
}

function barrierOf(map: DomainMap, { stops, from, to }: Crossing, domain: number): Origin {
  const stop = stops.find(({ domains }) => rangesContain(domains, BigInt(domain)));
  if (stop === undefined) return takerElsewhere(map, from, to, domain);
  const port = to.kind === "bridge" ? map.plant.places.get(to.port)?.port : undefined;
  const isOwnVlan = stop.origin === port?.otherwise && wireTag(map, from, domain) === undefined;
  // Untagged, and the port is no member of its own port VLAN: that VLAN is the odd line, not the list.
  return isOwnVlan ? port.untagged.origin : stop.origin;
}

/** Somebody else at the far attachment takes it: an interface with that tag, before the bridge sees it (kernel fact 36). */
function takerElsewhere(map: DomainMap, from: Crossing["from"], to: Crossing["to"], domain: number): Origin {
  const others = map.from.get(endId(from)) ?? [];
  const taken = others.find((crossing) => crossedAs(crossing, domain) !== undefined)?.to;
  const end = taken ?? to;
  const part =
    end.kind === "bridge" ? map.plant.places.get(end.port)?.port : map.plant.legs.get(end.interface)?.interface;
  if (part === undefined) throw new Error(`no \`${endId(end)}\` on the way of VLAN ${domain}`);
  return part.origin;
}

/** The tag with which a frame leaves an end; undefined: none. */
function wireTag(map: DomainMap, from: Crossing["from"], domain: number): number | undefined {
  if (from.kind === "interface") return map.plant.legs.get(from.interface)?.interface.vlan;
  const port = map.plant.places.get(from.port)?.port;
  const member = port && memberOf(port, domain);
  return member?.leaves === "untagged" || domain === 0 ? undefined : domain;
}

/** The line that gives a frame the VLAN of the far side, where it came without one. */
function classifier({ passes }: Crossing, domain: number): Origin | undefined {
  const pass = passes.find(({ domains }) => rangesContain(domains, BigInt(domain)));
  return pass === undefined || pass.becomes === "same" ? undefined : pass.why.at(pass.why.length > 2 ? -2 : -1);
}

type Pair = { readonly asker: InterfacePlan; readonly owner: InterfacePlan; readonly there: Walk; readonly back: Walk };

function stopsBetween(plan: Plan, map: DomainMap, pair: Pair): readonly Origin[] {
  const { there, back } = pair;
  const stops = [there.stop, back.stop].flatMap((stop) => stop ?? []);
  if (stops.length === 0 || !differ(there, back)) return stops;
  const sides = [there.classified, back.classified].flatMap((origin) => origin ?? []);
  const isOwnersFault = votes(plan, map, pair) < 0;
  return [...(isOwnersFault ? sides.reverse() : sides), ...stops];
}

/** The two sides are in different VLANs: not a gap in one VLAN, but a port that is in another. */
function differ(there: Walk, back: Walk): boolean {
  for (const [bridge, domain] of there.domains) {
    const other = back.domains.get(bridge);
    if (other !== undefined) return other !== domain;
  }
  return there.last !== undefined && back.last !== undefined && there.last !== back.last;
}

/**
 * Which side is in the wrong VLAN: above 0 the asker's, below 0 the owner's. The side that hears fewer others of the
 * network is the odd one out; of equals the one in VLAN 1, where ports are from the box.
 */
function votes(plan: Plan, map: DomainMap, { asker, owner, there, back }: Pair): number {
  const network = owner.interface.network ?? asker.interface.network;
  const heard = peersHeard(plan, map, owner, network) - peersHeard(plan, map, asker, network);
  return heard !== 0 ? heard : Number(there.last === 1) - Number(back.last === 1);
}

function peersHeard(plan: Plan, map: DomainMap, leg: InterfacePlan, network: Id | undefined): number {
  const { points } = reachOf(map, {
    at: { kind: "interface", stack: leg.stack.stack.id, interface: leg.interface.id },
    domain: 0,
  });
  return points.filter(({ at }) => {
    if (at.kind !== "interface" || at.interface === leg.interface.id) return false;
    return network !== undefined && plan.interfaces.get(at.interface)?.interface.network === network;
  }).length;
}

/** What is down between two interfaces that no live cable joins: the first line on the way that there would be. */
function cutBetween(plan: Plan, asker: InterfacePlan, owner: InterfacePlan): readonly Origin[] {
  const { network, settled } = plan;
  const map = wholeMapOf(network, settled.picks);
  const way = wayOver(map, asker, owner);
  if (way === undefined) return [asker.attachment.idle.origin];
  const down = new Set(settled.down);
  const ports = way.flatMap(({ by }) => by);
  const links = network.links.filter(({ id, ends }) => down.has(id) && ends.some((end) => ports.includes(end)));
  return links.length > 0 ? links.slice(0, 1).map(({ origin }) => origin) : [asker.attachment.idle.origin];
}

const wholes = new WeakMap<Plant, Map<string, DomainMap>>();

/** The broadcast domains of a site of which nothing has failed. */
function wholeMapOf(network: Network, picks: Settled["picks"]): DomainMap {
  const plant = plantOf(network);
  const known = wholes.get(plant) ?? new Map<string, DomainMap>();
  wholes.set(plant, known);
  const key = JSON.stringify(picks);
  const map = known.get(key) ?? domainMapOf(network, settle(network, { picks }));
  known.set(key, map);
  return map;
}
