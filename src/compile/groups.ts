/**
 * Groups: what each name means in an assertion (semantics, section 1), as *from* and as *to*.
 */
import {
  FAMILY_KEYS,
  intersectRanges,
  normalizeRanges,
  PUBLIC_KEYS,
  prefixKeys,
  type Ranges,
  ranges,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import {
  type Entrance,
  type Group,
  type Id,
  idOf,
  type Party,
  type SegmentPoint,
  type SetMember,
  type Vouched,
} from "../network/index.ts";
import type { InterfaceReference, SiteDevice, SiteInterface, SiteNetwork, SiteSet, SiteTarget } from "../site/index.ts";
import { withDigest } from "./digest.ts";
import { bridgeId, footingId, internetId, stackId } from "./ids.ts";
import { farAttachments, type Places, vouchedOnce } from "./places.ts";
import { groupBy, interfaceOf, ruleOf, type SiteIndex } from "./plant.ts";
import { fixedKeys, statedKeys } from "./services.ts";
import { interfaceIds, portsBeyond, portsOfTunnel } from "./tunnels.ts";

/** What groups are made of. */
export type GroupContext = {
  /** The site. */
  readonly index: SiteIndex;
  /** Where frames enter networks. */
  readonly places: Places;
  /** Stand-in clients' devices, by network. */
  readonly standIns: ReadonlyMap<string, Id>;
};

/** What a group has besides its name. */
type Content = Omit<Group, "id" | "origin" | "digest" | "kind">;

const NOTHING: Content = {
  begins: [],
  entrances: [],
  vouched: [],
  standIns: [],
  parties: [],
  addresses: [],
  interfaces: [],
  segments: [],
  upstreams: [],
};

/** The group of every name that people use. */
export function groupsOf(context: GroupContext): readonly Group[] {
  const { site } = context.index;
  const networks = new Map(site.networks.map((network) => [network.name, networkContent(network, context)]));
  const internet = new Map((["all", "public"] as const).map((scope) => [scope, internetContent(scope, context)]));
  const contentOf = (target: SiteTarget): Content => {
    switch (target.is) {
      case "network":
        return networks.get(target.network) ?? NOTHING;
      case "device":
        return contentOfDevice(target.device, context);
      case "interface":
        return contentOfLeg(target, context);
      case "internet":
        return internet.get(target.scope) ?? NOTHING;
      case "addresses":
        return { ...NOTHING, addresses: target.addresses };
    }
  };
  return [
    ...site.networks.map((network) => groupOf(network.name, network.origin, "network", networks.get(network.name))),
    ...site.devices.flatMap((device) => deviceGroups(device, context)),
    ...site.sets.map((set) => setGroup(set, contentOf)),
    ...internetGroups(internet, context),
  ];
}

function groupOf(name: string, origin: Origin, kind: Group["kind"], content: Content = NOTHING): Group {
  return withDigest({ id: idOf(name), origin, kind, ...content });
}

function networkContent(network: SiteNetwork, { index, places, standIns }: GroupContext): Content {
  const { interfaces } = network.extent;
  const hosts = interfaces.filter(({ device }) => index.devices.get(device)?.is === "host");
  const prefixes = network.prefixes.map(({ value }) => prefixKeys(value));
  const standIn = standIns.get(network.name);
  const parties = partiesOf(hosts, index);
  return {
    begins: parties,
    entrances: entrances(places.of(network).map(({ at }) => at)),
    vouched: places.vouched(network),
    standIns: standIn === undefined ? [] : [standIn],
    parties,
    // An address that is kept for a host counts by its prefix: one that is kept in another network is never lent here.
    addresses: normalizeRanges([...prefixes, ...interfaces.flatMap((one) => keysOf(one, index, statedKeys))]),
    ...(network.lacking === undefined ? {} : { lacking: network.lacking }),
    interfaces: interfaces.flatMap((one) => idsOf(one, index)),
    segments: segmentsOf(network, index),
    upstreams: [],
  };
}

/** Addresses of an interface, as pairs of keys; `keysFor` tells which count. */
function keysOf(
  { device, interface: name }: InterfaceReference,
  index: SiteIndex,
  keysFor: typeof fixedKeys = fixedKeys,
): readonly (readonly [bigint, bigint])[] {
  const found = index.devices.get(device);
  return found === undefined ? [] : keysFor(found, name, index).map((key) => [key, key] as const);
}

function partiesOf(interfaces: readonly InterfaceReference[], index: SiteIndex): readonly Party[] {
  return [...groupBy(interfaces, ({ device }) => device)].map(([device, own]) => ({
    stack: stackId(device),
    interfaces: own.flatMap((one) => idsOf(one, index)),
  }));
}

/** Interfaces that stand for one that was declared. */
function idsOf({ device: name, interface: one }: InterfaceReference, { devices }: SiteIndex): readonly Id[] {
  const device = devices.get(name);
  return device === undefined ? [] : interfaceIds(device, one);
}

function entrances(ids: readonly Id[]): readonly Entrance[] {
  return [...new Set(ids)].sort().map((at) => ({ at }));
}

/** Domains of bridges, and ports that an interface of a router stands on directly; hosts' own ones where there is nothing else. */
function segmentsOf({ extent }: SiteNetwork, index: SiteIndex): readonly SegmentPoint[] {
  const bridged = extent.domains.map(({ device, vlan }) => ({
    at: bridgeId(device),
    ...(vlan === undefined ? {} : { vlan }),
  }));
  const standing = extent.interfaces.flatMap((reference) => {
    const device = index.devices.get(reference.device);
    const one = device?.interfaces.find(({ name }) => name === reference.interface);
    return device === undefined || one === undefined
      ? []
      : pointsOf(device, one, index).map((point) => ({ device, point }));
  });
  const routed = standing.filter(({ device }) => device.is !== "host").map(({ point }) => point);
  const points = [...bridged, ...routed];
  const all = points.length > 0 ? points : standing.map(({ point }) => point);
  return [...all].sort((a, b) => (a.at < b.at ? -1 : a.at > b.at ? 1 : (a.vlan ?? 0) - (b.vlan ?? 0)));
}

/** Links that an interface stands on directly. */
function pointsOf(device: SiteDevice, { footing, vlan }: SiteInterface, index: SiteIndex): readonly SegmentPoint[] {
  switch (footing.on) {
    case "bridge":
      return [];
    case "tunnel":
      return portsOfTunnel(device, footing.port, index).all.map((at) => ({ at }));
    case "port":
      return [{ at: footingId(device, footing), ...(vlan === undefined ? {} : { vlan: vlan.value }) }];
  }
}

function deviceGroups(device: SiteDevice, context: GroupContext): readonly Group[] {
  const kind = device.is === "host" ? "host" : "device";
  const legs = device.interfaces.map((one) => {
    const content = legsContent(device, [one], context.index);
    return withDigest({ id: idOf(device.name, one.name), origin: one.origin, kind: "leg" as const, ...content });
  });
  return [groupOf(device.name, device.origin, kind, legsContent(device, device.interfaces, context.index)), ...legs];
}

function contentOfDevice(name: string, { index }: GroupContext): Content {
  const device = index.devices.get(name);
  return device === undefined ? NOTHING : legsContent(device, device.interfaces, index);
}

function contentOfLeg({ device: name, interface: leg }: InterfaceReference, { index }: GroupContext): Content {
  const device = index.devices.get(name);
  return device === undefined ? NOTHING : legsContent(device, [interfaceOf(device, leg)], index);
}

/** Interfaces of one device. A host may send what it likes from its legs; a managed device does as it is told. */
function legsContent(device: SiteDevice, legs: readonly SiteInterface[], index: SiteIndex): Content {
  const references = legs.map((one) => ({ device: device.name, interface: one.name }));
  const parties = partiesOf(references, index);
  const upstream = device.is === "upstream";
  const free = device.is === "host" || upstream;
  return {
    ...NOTHING,
    begins: parties,
    entrances: entrances(free ? legs.flatMap((one) => attachmentsBeyond(device, one, index)) : []),
    parties,
    addresses: normalizeRanges(references.flatMap((one) => keysOf(one, index))),
    interfaces: references.flatMap((one) => idsOf(one, index)),
    upstreams: upstream ? references.flatMap((one) => idsOf(one, index)) : [],
  };
}

function attachmentsBeyond(device: SiteDevice, { footing }: SiteInterface, index: SiteIndex): readonly Id[] {
  if (footing.on === "tunnel") return portsBeyond(device, footing.port, index);
  const ports = footing.on === "bridge" ? (device.bridge?.ports ?? []).map(({ name }) => name) : [footing.port];
  return ports
    .flatMap((name) => device.bonds.find((bond) => bond.name === name)?.members.map(({ value }) => value) ?? [name])
    .flatMap((port) => farAttachments(device, port, index));
}

function setGroup({ name, origin, members }: SiteSet, contentOf: (target: SiteTarget) => Content): Group {
  const contents = members.map(({ value }) => contentOf(value));
  const ways = entrances(contents.flatMap((content) => content.entrances.map(({ at }) => at)));
  return groupOf(name, origin, "set", {
    begins: joinParties(contents.flatMap(({ begins }) => begins)),
    entrances: ways,
    vouched: vouchedBeside(
      ways,
      contents.flatMap(({ vouched }) => vouched),
    ),
    standIns: once(contents.flatMap(({ standIns }) => standIns)),
    parties: joinParties(contents.flatMap(({ parties }) => parties)),
    addresses: contents.reduce<Ranges>((all, { addresses }) => unionRanges(all, addresses), []),
    interfaces: once(contents.flatMap(({ interfaces }) => interfaces)),
    segments: [
      ...new Map(contents.flatMap(({ segments }) => segments).map((one) => [`${one.at} ${one.vlan}`, one])).values(),
    ],
    upstreams: once(contents.flatMap(({ upstreams }) => upstreams)),
    members: members.map(({ value }) => memberOf(value)),
  });
}

/** What no other member enters by. */
function vouchedBeside(ways: readonly Entrance[], vouched: readonly Vouched[]): readonly Vouched[] {
  const entered = new Set(ways.map(({ at }) => at));
  return vouchedOnce(vouched.filter(({ at }) => !entered.has(at)));
}

function memberOf(target: SiteTarget): SetMember {
  switch (target.is) {
    case "network":
      return { group: idOf(target.network) };
    case "device":
      return { group: idOf(target.device) };
    case "interface":
      return { group: idOf(target.device, target.interface) };
    case "internet":
      return { group: internetId(target.scope) };
    case "addresses":
      return { addresses: target.addresses };
  }
}

function once(ids: readonly Id[]): readonly Id[] {
  return [...new Set(ids)];
}

/** One party a stack, with all its interfaces that were named. */
function joinParties(parties: readonly Party[]): readonly Party[] {
  return [...groupBy(parties, ({ stack }) => stack)].map(([stack, own]) => ({
    stack,
    interfaces: once(own.flatMap(({ interfaces }) => interfaces)),
  }));
}

/** Whatever leaves by an upstream port; its addresses are those that lie in no network of the site. */
function internetContent(scope: "all" | "public", { index }: GroupContext): Content {
  const { site } = index;
  const contents = site.devices
    .filter(({ is }) => is === "upstream")
    .map((device) => legsContent(device, device.interfaces, index));
  const own = normalizeRanges(site.networks.flatMap(({ prefixes }) => prefixes.map(({ value }) => prefixKeys(value))));
  const beyond = subtractRanges(ranges(FAMILY_KEYS[4], FAMILY_KEYS[6]), own);
  return {
    ...NOTHING,
    begins: contents.flatMap(({ begins }) => begins),
    entrances: entrances(contents.flatMap((content) => content.entrances.map(({ at }) => at))),
    parties: contents.flatMap(({ parties }) => parties),
    addresses: scope === "all" ? beyond : intersectRanges(beyond, PUBLIC_KEYS),
    interfaces: contents.flatMap(({ interfaces }) => interfaces),
    upstreams: contents.flatMap(({ upstreams }) => upstreams),
  };
}

function internetGroups(contents: ReadonlyMap<"all" | "public", Content>, { index }: GroupContext): readonly Group[] {
  const [first] = index.site.devices.filter(({ is }) => is === "upstream");
  const anchor = first ?? index.site.devices[0];
  if (anchor === undefined) return [];
  const origin = first?.origin ?? ruleOf(anchor, "the site has no upstream", "dryrack");
  return (["all", "public"] as const).map((scope) => {
    const kind = scope === "all" ? "internet" : "internet-public";
    return withDigest({ id: internetId(scope), origin, kind, ...(contents.get(scope) ?? NOTHING) });
  });
}
