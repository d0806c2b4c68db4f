/**
 * Carrier: which links and ports are up. A link is up when both its ports are switched on, powered and not failed, it is not
 * failed itself, and it is wanted: neither on demand nor a tunnel, or asked for; of several access points in reach the one picked.
 */
import type { Choice, Id, Link, Pick } from "../network/index.ts";
import { makeChoice, taken } from "./choices.ts";
import type { Plant } from "./plant.ts";

/** What is up. */
export type Carrier = {
  /** Links that are up. */
  readonly links: ReadonlySet<Id>;
  /** Ports with at least one such link. */
  readonly ports: ReadonlySet<Id>;
  /** Which access point each station with several in reach may be on. */
  readonly choices: readonly Choice[];
};

/** What settling is told about the day. */
export type CarrierConditions = {
  /** What is taken of what stays open. */
  readonly picks: readonly Pick[];
  /** Failed links, ports, devices and shared fates. */
  readonly down: ReadonlySet<Id>;
  /** On-demand links to raise. */
  readonly up: ReadonlySet<Id>;
  /** Ports that a BPDU guard has shut. */
  readonly shut: ReadonlySet<Id>;
};

/** Which links and ports have carrier. */
export function carrierOf(plant: Plant, conditions: CarrierConditions): Carrier {
  const isPowered = powerOf(plant, conditions.down);
  const isLive = (id: Id) => isPortLive(plant, conditions, isPowered, id);
  const possible = plant.network.links.filter(
    (link) => isWanted(link, conditions) && !isFailed(link, conditions.down) && link.ends.every(isLive),
  );
  const choices = accessPointChoices(plant, possible);
  const others = new Set<Id>();
  for (const choice of choices) {
    const pick = taken(choice, conditions.picks);
    for (const option of choice.options) if (option !== pick) others.add(option);
  }
  const up = possible.filter(({ id }) => !others.has(id));
  return { links: new Set(up.map(({ id }) => id)), ports: new Set(up.flatMap(({ ends }) => ends)), choices };
}

function isWanted(link: Link, { up }: CarrierConditions): boolean {
  return !isRaised(link) || up.has(link.id);
}

/** Whether a link is up only when it is told to be: a question's, or a tunnel whose outer packets were exchanged. */
export function isRaised({ onDemand, outer }: Link): boolean {
  return onDemand || outer !== undefined;
}

function isFailed(link: Link, down: ReadonlySet<Id>): boolean {
  return down.has(link.id) || link.downWith.some((fate) => down.has(fate));
}

function isPortLive(
  plant: Plant,
  { down, shut }: CarrierConditions,
  isPowered: (device: Id) => boolean,
  id: Id,
): boolean {
  const port = plant.ports.get(id);
  return port?.enabled === true && !down.has(id) && !shut.has(id) && isPowered(port.device);
}

/** A device without `poweredBy` has mains; others live on any of their powering ports whose cable still leads to them. */
function powerOf(plant: Plant, down: ReadonlySet<Id>): (device: Id) => boolean {
  const known = new Map<Id, boolean>();
  return isPowered;

  function isPowered(id: Id): boolean {
    const answer = known.get(id);
    if (answer !== undefined) return answer;
    known.set(id, false); // devices that power one another in a circle have no power
    const device = plant.devices.get(id);
    const powered = !down.has(id) && (!device?.poweredBy.length || device.poweredBy.some((port) => gives(port, id)));
    known.set(id, powered);
    return powered;
  }

  function gives(id: Id, to: Id): boolean {
    const port = plant.ports.get(id);
    if (!port || down.has(id) || !isPowered(port.device)) return false;
    const links = plant.linksAt.get(id) ?? [];
    return links.some((link) => !isFailed(link, down) && link.ends.some((end) => plant.ports.get(end)?.device === to));
  }
}

/** A host's radio port with several radio links is on one access point at a time. */
function accessPointChoices(plant: Plant, possible: readonly Link[]): Choice[] {
  const offers = new Map<Id, Id[]>();
  for (const link of possible) {
    if (link.kind !== "radio") continue;
    for (const end of link.ends.filter((id) => isStation(plant, id))) {
      offers.set(end, [...(offers.get(end) ?? []), link.id]);
    }
  }
  const choices: Choice[] = [];
  for (const [port, links] of offers) {
    const origin = plant.ports.get(port)?.origin;
    if (links.length > 1 && origin) choices.push(makeChoice("access-point", port, links, origin));
  }
  return choices.sort((a, b) => (a.id < b.id ? -1 : 1));
}

function isStation(plant: Plant, id: Id): boolean {
  return plant.devices.get(plant.ports.get(id)?.device ?? "")?.is === "host";
}

/** Rate of a port's link in Mbit/s: the slower of its ends; 0 where neither says. */
export function linkRate(plant: Plant, carrier: Carrier, port: Id): number {
  const link = (plant.linksAt.get(port) ?? []).find(({ id }) => carrier.links.has(id));
  const rates = (link?.ends ?? [port]).map((end) => plant.ports.get(end)?.rateMbps ?? 0).filter((rate) => rate > 0);
  return rates.length === 0 ? 0 : Math.min(...rates);
}
