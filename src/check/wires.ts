/**
 * The link layer at rest, as reasons need it: who hears whom and over which crossings; where on the way a frame's VLAN
 * changes from one number to another, as where the two ports of a cable call untagged frames by different names; which
 * isolated ports or which bond without a partner keep two interfaces apart.
 */
import { type Ranges, rangesContain } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import {
  type Bond,
  type BridgePort,
  deviceOf,
  type Id,
  type Interface,
  type Member,
  type Network,
  type Settled,
} from "../network/index.ts";
import { type Crossing, crossedAs, type DomainMap, domainMapOf, endId, reachOf } from "../settle/index.ts";
import { emptySockets } from "./unjoined.ts";

/** A crossing that a frame takes, with its VLAN. */
export type Hop = {
  /** From one bridge or interface to the next. */
  readonly crossing: Crossing;
  /** VLAN at the near end; 0: none yet. */
  readonly before: number;
  /** VLAN at the far end; 0: none. */
  readonly after: number;
  /** The crossing before it; absent: it is the first. */
  readonly earlier?: Hop;
};

/** Every crossing of a frame to all that an interface sends, nearest first. `isolation: false` passes over isolated ports. */
export function hopsFrom(leg: Id, network: Network, settled: Settled, isolation = true): readonly Hop[] {
  const map = domainMapOf(network, settled);
  const hops: Hop[] = [];
  const seen = new Set<string>();
  const add = (crossing: Crossing, before: number, earlier?: Hop): void => {
    const after = crossedAs(crossing, before);
    if (after === undefined || seen.has(`${endId(crossing.to)} ${after}`)) return;
    seen.add(`${endId(crossing.to)} ${after}`);
    hops.push({ crossing, before, after, ...(earlier === undefined ? {} : { earlier }) });
  };
  for (const crossing of map.from.get(leg) ?? []) add(crossing, 0);
  // Hops found on the way are appended and so walked too.
  for (const hop of hops) {
    for (const port of exitsAfter(map, hop, isolation)) {
      for (const crossing of map.from.get(port) ?? []) add(crossing, hop.after, hop);
    }
  }
  return hops;
}

/** The ports by which a frame leaves the bridge that it has come to. */
function exitsAfter({ plant }: DomainMap, { crossing: { to } }: Hop, isolation: boolean): readonly Id[] {
  const place = to.kind === "bridge" ? plant.places.get(to.port) : undefined;
  if (place === undefined) return [];
  const others = place.bridge.ports.filter(({ id }) => id !== place.port.id);
  const group = isolation ? place.port.isolation : undefined;
  return others.flatMap(({ id, isolation: other }) => (group !== undefined && other === group ? [] : [id]));
}

/** Interfaces among what the frames of one reach, nearest first. */
export function heardIn(hops: readonly Hop[], leg: Id): readonly Id[] {
  return hops.flatMap(({ crossing: { to } }) =>
    to.kind === "interface" && to.interface !== leg ? [to.interface] : [],
  );
}

/** The crossings from one interface to another, in order; empty: it is not heard there. */
export function wayTo(hops: readonly Hop[], leg: Id): readonly Hop[] {
  const last = hops.find(({ crossing: { to } }) => to.kind === "interface" && to.interface === leg);
  const way: Hop[] = [];
  for (let hop = last; hop !== undefined; hop = hop.earlier) way.push(hop);
  return way.reverse();
}

/** The line that turns an interface's frames away at the first port that looks at them; undefined: they are let in somewhere. */
export function refusalOf({ id }: Interface, network: Network, settled: Settled): Origin | undefined {
  const stack = network.stacks.find(({ interfaces }) => interfaces.some((leg) => leg.id === id));
  if (stack === undefined) return undefined;
  const start = { at: { kind: "interface", stack: stack.id, interface: id }, domain: 0 } as const;
  const { points, stopped } = reachOf(domainMapOf(network, settled), start);
  return points.some(({ domain }) => domain !== 0) ? undefined : stopped[0]?.origin;
}

/** The line that stops a frame on the shortest way over the cables to another interface; undefined: nothing does. */
export function stopTowards(from: Id, to: Id, network: Network, settled: Settled): Origin | undefined {
  const map = domainMapOf(network, settled);
  let domain = 0;
  for (const crossing of cablesTo(map, from, to)) {
    const next = crossedAs(crossing, domain);
    if (next === undefined) {
      const value = BigInt(domain);
      return crossing.stops.find(({ domains }) => rangesContain(domains, value))?.origin;
    }
    domain = next;
  }
  return undefined;
}

/** The crossings of the shortest way, whatever passes them; empty: no cable leads there. */
function cablesTo(map: DomainMap, from: Id, to: Id): readonly Crossing[] {
  type Step = { readonly crossing: Crossing; readonly earlier?: Step };
  const steps: Step[] = (map.from.get(from) ?? []).map((crossing) => ({ crossing }));
  const seen = new Set<Id>();
  // Steps found on the way are appended and so walked too.
  for (const step of steps) {
    const end = step.crossing.to;
    if (end.kind === "interface") {
      if (end.interface !== to) continue;
      const way: Crossing[] = [];
      for (let at: Step | undefined = step; at !== undefined; at = at.earlier) way.push(at.crossing);
      return way.reverse();
    }
    if (seen.has(end.bridge)) continue;
    seen.add(end.bridge);
    const others = map.plant.places.get(end.port)?.bridge.ports.filter(({ id }) => id !== end.port) ?? [];
    steps.push(
      ...others.flatMap(({ id }) => (map.from.get(id) ?? []).map((crossing) => ({ crossing, earlier: step }))),
    );
  }
  return [];
}

/** An interface with another tag than its network has wherever it is switched. */
export function isMistagged({ vlan, network: name }: Interface, { groups, bridges }: Network): boolean {
  const group = groups.find(({ id, kind }) => id === name && kind === "network");
  const vlans = group?.segments.flatMap(({ at, vlan: number }) =>
    number !== undefined && bridges.some(({ id }) => id === at) ? [number] : [],
  );
  return vlan !== undefined && vlans !== undefined && vlans.length > 0 && !vlans.includes(vlan);
}

// -- where a frame gets its VLAN -------------------------------------------------------------------------------------

/** Whether an interface of a network reaches others with a network, and none of its own. */
export function isAstray({ id, network: own }: Interface, hops: readonly Hop[], { stacks }: Network): boolean {
  const heard = heardIn(hops, id);
  const legs = stacks.flatMap(({ interfaces }) => interfaces).filter((leg) => heard.includes(leg.id));
  const others = legs.flatMap(({ network }) => network ?? []);
  return own !== undefined && others.length > 0 && !others.includes(own);
}

/** The line that put a frame into the VLAN of its first bridge that knows any; undefined: none did. */
export function entryOf(way: readonly Hop[], network: Network, settled: Settled): Origin | undefined {
  const entry = way.find(({ before, after }) => before === 0 && after !== 0);
  return entry === undefined ? undefined : portVlanAt(entry, network, settled);
}

/**
 * The line that put a frame into a VLAN that leads nowhere, when the bridge carries other VLANs with tags that none of its
 * ports uses: then it is this line that is odd, not the lists of its trunks.
 */
export function oddEntryOf(hops: readonly Hop[], network: Network, settled: Settled): Origin | undefined {
  const entry = hops.find(({ before, after }) => before === 0 && after !== 0);
  const end = entry?.crossing.to;
  const place = end?.kind === "bridge" ? domainMapOf(network, settled).plant.places.get(end.port) : undefined;
  if (entry === undefined || place === undefined || place.port.untagged.origin.by !== "written") return undefined;
  const tagged = place.bridge.ports.filter(({ own }) => !own).flatMap((port) => vlansOf(port, "tagged"));
  const used = place.bridge.ports.flatMap((port) => [
    ...(port.own ? vlansOf(port, "tagged") : []),
    ...vlansOf(port, "untagged"),
  ]);
  const leadsOn = tagged.some((run) => rangesContain([run], BigInt(entry.after)));
  const isUnused = tagged.some(([low, high]) => !used.some(([first, last]) => first <= high && last >= low));
  return !leadsOn && isUnused ? place.port.untagged.origin : undefined;
}

function vlansOf({ members }: BridgePort, how: Member["leaves"]): Ranges {
  return members.filter(({ leaves }) => leaves === how).flatMap(({ vlans }) => vlans);
}

/**
 * Where two networks are joined: a cable that a frame leaves in one VLAN and enters in another. Between two ports that
 * carry untagged frames only the cable itself is in the wrong socket; else a trunk's port VLAN is wrong.
 */
export function joinOf(hops: readonly Hop[], network: Network, settled: Settled): Origin | undefined {
  const join = hops.find(({ before, after }) => before !== 0 && after !== 0 && before !== after);
  if (join === undefined) return undefined;
  const { from, to, by } = join.crossing;
  const { plant } = domainMapOf(network, settled);
  const ports = [from, to].flatMap((end) => (end.kind === "bridge" ? (plant.places.get(end.port)?.port ?? []) : []));
  const isTrunk = ports.some(({ members }) => members.some(({ leaves }) => leaves === "tagged"));
  const [cable] = plant.linksAt.get(by[0] ?? "") ?? [];
  return isTrunk || cable === undefined ? portVlanAt(join, network, settled) : cable.origin;
}

function portVlanAt({ crossing: { to } }: Hop, network: Network, settled: Settled): Origin | undefined {
  const place = to.kind === "bridge" ? domainMapOf(network, settled).plant.places.get(to.port) : undefined;
  return place?.port.untagged.origin;
}

// -- what keeps two interfaces apart -----------------------------------------------------------------------------------

/** The isolated port by which a frame would leave, where isolation alone keeps it from an interface. */
export function isolationBetween(from: Id, to: Id, network: Network, settled: Settled): Origin | undefined {
  const { plant } = domainMapOf(network, settled);
  const way = wayTo(hopsFrom(from, network, settled, false), to);
  const exit = way.find(({ earlier, crossing }) => {
    const [near, into] = [crossing.from, earlier?.crossing.to];
    if (near.kind !== "bridge" || into?.kind !== "bridge") return false;
    const group = plant.places.get(into.port)?.port.isolation;
    return group !== undefined && plant.places.get(near.port)?.port.isolation === group;
  });
  return exit?.crossing.from.kind === "bridge" ? plant.places.get(exit.crossing.from.port)?.port.origin : undefined;
}

/**
 * Where a device has no cable that works: the cable, when it ends at a port that is off while a port that is meant for one
 * stands empty; else the port that is off.
 */
export function deadCablesOf(device: Id, network: Network, settled: Settled): readonly Origin[] {
  const own = network.links.filter(({ ends, onDemand }) => !onDemand && ends.some((end) => deviceOf(end) === device));
  const isCutOff = own.length > 0 && own.every(({ id }) => settled.down.includes(id));
  const dead = isCutOff ? own : [];
  return dead.flatMap(({ ends, origin }) => {
    const off = network.ports.filter(({ id, enabled }) => ends.includes(id) && !enabled);
    const lines = off.map((port) => port.origin);
    return off.some((port) => emptySockets(new Set([port.device]), network).length > 0)
      ? [origin, ...lines]
      : [...lines, origin];
  });
}

/** Cables of a device that end at a port of it which nothing uses: where one stands when the right port is empty. */
export function looseCablesOf(device: Id, { bonds, bridges, links, ports, stacks }: Network): readonly Origin[] {
  const used = new Set([
    ...bonds.flatMap(({ members }) => members),
    ...bridges.flatMap((bridge) => bridge.ports.map(({ on }) => on)),
    ...stacks.flatMap(({ interfaces }) => interfaces.map(({ on }) => on)),
  ]);
  const idle = ports.filter((port) => port.device === device && !used.has(port.id));
  return links.flatMap(({ ends, origin }) => (idle.some(({ id }) => ends.includes(id)) ? [origin] : []));
}

/**
 * A bond of which no member carries anything, and without which the cables lead nowhere: the ports opposite, which do not
 * speak to it, then the bond.
 */
export function silentBondBetween(a: Interface, b: Interface, network: Network, settled: Settled): readonly Origin[] {
  const silent = settled.bonds.flatMap(({ bond: id, sends }) => {
    const bond = network.bonds.find((each) => each.id === id);
    return bond === undefined || sends.length > 0 ? [] : [bond];
  });
  const cut = silent.find((bond) => isApart(deviceOf(a.id), deviceOf(b.id), bond, network));
  return cut === undefined ? [] : [...oppositesOf(cut, network), cut.origin];
}

function isApart(from: Id, to: Id, { members }: Bond, { links }: Network): boolean {
  const reached = new Set([from]);
  for (const device of reached) {
    for (const { ends } of links) {
      const [near, far] = ends.map(deviceOf);
      if (near === undefined || far === undefined || ends.some((end) => members.includes(end))) continue;
      if (near === device) reached.add(far);
      if (far === device) reached.add(near);
    }
  }
  return !reached.has(to);
}

/** What stands opposite of a bond's members: bonds that do not fit, else ports that are in none. */
function oppositesOf({ members }: Bond, { links, bonds, bridges, ports }: Network): readonly Origin[] {
  const far = links.flatMap(({ ends }) =>
    ends.some((end) => members.includes(end)) ? ends.filter((end) => !members.includes(end)) : [],
  );
  return far.flatMap((port) => {
    const bond = bonds.find((each) => each.members.includes(port));
    const switched = bridges.flatMap((bridge) => bridge.ports).find(({ on }) => on === port);
    const plain = switched?.origin ?? ports.find(({ id }) => id === port)?.origin;
    return bond?.origin ?? plain ?? [];
  });
}
