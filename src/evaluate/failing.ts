/**
 * Sites with failed parts: which parts can fail, and what a site is without some of them. A failed device is off, what it
 * powers with it; a failed cable carries nothing; a failed server is silent while its device goes on; a shared fate takes down
 * everything that shares it.
 */
import type { Origin } from "../diagnose/index.ts";
import type { FailingKind } from "../document/index.ts";
import { type Device, deviceOf, type Group, type Id, type Link, type Network, type Party } from "../network/index.ts";
import { darkened } from "../settle/index.ts";
import type { World } from "./worlds.ts";

/** A part that can fail. */
export type FailingPart = {
  /** Id of the link, fate, device or service. */
  readonly id: Id;
  /** What it is: "the cable edge:lan1 - core:p1". */
  readonly label: string;
  /** Where it stands. */
  readonly origin: Origin;
  /** How it fails; a fate and a device may bear the same name. */
  readonly fails: "link" | "fate" | "device" | "service";
};

/** A word for a part that no other one has. */
export function partKey({ fails, id }: FailingPart): string {
  return `${fails} ${id}`;
}

/** Parts without those that stand there twice, in document order. */
export function eachPartOnce(parts: readonly FailingPart[]): readonly FailingPart[] {
  return [...new Map(parts.map((part) => [partKey(part), part])).values()].sort(byPlace);
}

/** Every part of these kinds that does something in any world of a site at rest, each once, in document order. */
export function partsOf(
  network: Network,
  worlds: readonly Pick<World, "settled">[],
  kinds: ReadonlySet<FailingKind>,
): readonly FailingPart[] {
  const down = downInAll(worlds);
  const cables = network.links.filter((link) => link.kind === "cable" && !link.onDemand && !down.has(link.id));
  const parts = [
    ...(kinds.has("cables") ? [...cables.map(cablePart), ...fatesOf(cables)] : []),
    ...(kinds.has("bond-members") ? membersOf(network, cables).map(cablePart) : []),
    ...(kinds.has("devices") ? network.devices.flatMap(devicePart) : []),
    ...(kinds.has("servers") ? serversOf(network) : []),
  ];
  return eachPartOnce(parts);
}

/** What is down in every world. */
function downInAll(worlds: readonly Pick<World, "settled">[]): ReadonlySet<Id> {
  const [first, ...others] = worlds.map(({ settled }) => new Set(settled.down));
  return new Set([...(first ?? [])].filter((id) => others.every((down) => down.has(id))));
}

function byPlace(one: FailingPart, other: FailingPart): number {
  const [a, b] = [one.origin.span, other.origin.span];
  return a.file - b.file || a.start - b.start || a.end - b.end || (partKey(one) < partKey(other) ? -1 : 1);
}

function cablePart({ id, ends, origin }: Link): FailingPart {
  return { id, label: `the cable ${ends.join(" - ")}`, origin, fails: "link" };
}

/** What takes several cables down; told at the first of them. */
function fatesOf(cables: readonly Link[]): readonly FailingPart[] {
  return cables.flatMap(({ downWith, origin }) =>
    downWith.map((id): FailingPart => ({ id, label: `the shared fate ${id}`, origin, fails: "fate" })),
  );
}

function membersOf({ bonds }: Network, cables: readonly Link[]): readonly Link[] {
  const members = new Set(bonds.flatMap((bond) => bond.members));
  return cables.filter(({ ends }) => ends.some((end) => members.has(end)));
}

function devicePart({ id, origin, standIn }: Device): readonly FailingPart[] {
  return standIn ? [] : [{ id, label: id, origin, fails: "device" }];
}

const SERVERS = new Map([
  ["dhcp-server", "the DHCP server"],
  ["dhcp-relay", "the DHCP relay"],
  ["advertise", "the advertiser"],
  ["resolve", "the resolver"],
] as const);

function serversOf({ services }: Network): readonly FailingPart[] {
  return services.flatMap((service): FailingPart[] => {
    if (service.kind === "listen") return [];
    const on = "interface" in service && service.interface !== undefined ? service.interface : deviceOf(service.stack);
    return [
      { id: service.id, label: `${SERVERS.get(service.kind)} on ${on}`, origin: service.origin, fails: "service" },
    ];
  });
}

/** A site without some of its parts. */
export type Failed = {
  /** The site; stations that are gone are nobody's end any more. */
  readonly network: Network;
  /** Failed links, and ports of failed devices, for settling. */
  readonly down: readonly Id[];
  /** Stacks of stations that failed themselves, or lost all their own cables: nothing around them could keep them. */
  readonly gone: ReadonlySet<Id>;
};

/** The site without these parts. */
export function withoutParts(
  network: Network,
  worlds: readonly Pick<World, "settled">[],
  parts: readonly FailingPart[],
): Failed {
  const idsOf = (kind: FailingPart["fails"]): ReadonlySet<Id> =>
    new Set(parts.flatMap(({ id, fails }) => (fails === kind ? [id] : [])));
  const [links, devices] = [idsOf("link"), idsOf("device")];
  const services = new Map(parts.flatMap(({ id, fails, origin }) => (fails === "service" ? [[id, origin]] : [])));
  const off = new Set(network.stacks.flatMap(({ id, device }) => (devices.has(device) ? [id] : [])));
  const gone = new Set([...off, ...cutOff(network, downInAll(worlds), links)]);
  const fates = idsOf("fate");
  const torn = network.links.filter(({ downWith }) => downWith.some((fate) => fates.has(fate)));
  const dead = network.ports.filter(({ device }) => devices.has(device));
  const dark = darkened(network, devices, services);
  // What is kept for a network is kept for the one without a cable, too, where nobody is gone.
  const left = gone.size === 0 ? dark : { ...dark, groups: network.groups.map((group) => groupWithout(group, gone)) };
  return { network: left, down: [...links, ...[...torn, ...dead].map(({ id }) => id)], gone };
}

/** Stacks of devices all of whose living links are among these. */
function cutOff(network: Network, dead: ReadonlySet<Id>, failed: ReadonlySet<Id>): readonly Id[] {
  const deviceAt = new Map(network.ports.map(({ id, device }) => [id, device]));
  const links = network.links.filter(({ id, onDemand }) => !onDemand && !dead.has(id));
  const at = (some: readonly Link[]): ReadonlySet<Id | undefined> =>
    new Set(some.flatMap(({ ends }) => ends.map((end) => deviceAt.get(end))));
  const [hit, left] = [at(links.filter(({ id }) => failed.has(id))), at(links.filter(({ id }) => !failed.has(id)))];
  return network.stacks.flatMap(({ id, device }) => (hit.has(device) && !left.has(device) ? [id] : []));
}

/** The internet is no station: it fails with whatever leads to it. */
function groupWithout(group: Group, gone: ReadonlySet<Id>): Group {
  if (group.kind === "internet" || group.kind === "internet-public") return group;
  const stays = ({ stack }: Party): boolean => !gone.has(stack);
  const [begins, parties] = [group.begins.filter(stays), group.parties.filter(stays)];
  const isSame = begins.length === group.begins.length && parties.length === group.parties.length;
  return isSame
    ? group
    : { ...group, begins, parties, digest: `${group.digest} without ${[...gone].sort().join(" ")}` };
}
