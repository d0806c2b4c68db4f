/**
 * Sets of addresses in words: networks by name, hosts by name, the rest as prefixes and ranges.
 */
import {
  addressKey,
  EMPTY_RANGES,
  FAMILY_KEYS,
  firstAddress,
  formatAddressSet,
  intersectRanges,
  isEmptyRanges,
  isLinkLocal,
  keyAddress,
  lastAddress,
  PUBLIC_KEYS,
  prefixKeys,
  prefixOf,
  type Ranges,
  rangesContain,
  rangesOf,
  rangesOverlap,
  rangesWithin,
  single,
  subtractRanges,
  unionRanges,
  widthOf,
} from "../address/index.ts";
import type { Evaluation } from "../evaluate/index.ts";
import { deviceOf, type Group, type InterfaceAddress } from "../network/index.ts";
import { deviceName } from "../result/index.ts";

/** Names for sets of addresses. */
export type AddressNames = {
  /** Networks, in document order. */
  readonly networks: readonly Group[];
  /** Who has an address at rest, by key. */
  readonly owners: ReadonlyMap<bigint, string>;
  /** Addresses of managed devices, by key, each with its subnet. */
  readonly managed: ReadonlyMap<bigint, Ranges>;
  /**
   * Addresses that no host of a network has: those of managed devices, the first and last of each IPv4 prefix, and the first of each
   * of IPv6, which its routers share (RFC 4291 section 2.6.1).
   */
  readonly spare: Ranges;
  /** Those of them that nobody has for himself: no packet may be sent from one (RFC 1122 section 3.2.1.3, RFC 4291 section 2.6.1). */
  readonly shared: Ranges;
};

/** The names of a site at rest. */
export function addressNamesOf(evaluation: Evaluation): AddressNames {
  const [world] = evaluation.worlds().worlds;
  const legs = (world?.settled.stacks ?? []).flatMap(({ stack, interfaces }) =>
    interfaces.flatMap(({ addresses }) =>
      addresses.map((address) => ({ address, key: addressKey(address), owner: deviceName(deviceOf(stack)) })),
    ),
  );
  const { devices, groups } = evaluation.network;
  const hosts = new Set(devices.flatMap(({ id, is }) => (is === "host" ? [id] : [])));
  const managed = legs.filter(({ owner }) => !hosts.has(owner));
  const ends = legs.flatMap(({ address }) => endsOf(address));
  return {
    networks: groups.filter(({ kind }) => kind === "network"),
    owners: new Map(legs.map(({ key, owner }) => [key, owner])),
    managed: new Map(managed.map(({ key, address }) => [key, subnetOf(address)])),
    spare: rangesOf([...managed.map(({ key }) => key), ...ends]),
    shared: rangesOf(legs.flatMap(({ address }) => (isPointToPoint(address) ? [] : endsOf(address)))),
  };
}

function subnetOf(address: InterfaceAddress): Ranges {
  return [prefixKeys(prefixOf(address, address.prefixLength))];
}

function endsOf(address: InterfaceAddress): readonly bigint[] {
  const prefix = prefixOf(address, address.prefixLength);
  const first = addressKey(firstAddress(prefix));
  return address.family === 4 ? [first, addressKey(lastAddress(prefix))] : [first];
}

/** Both addresses of a link between two are somebody's (RFC 3021 section 2.1, RFC 6164 section 4), as is one that is a prefix of its own. */
function isPointToPoint({ family, prefixLength }: InterfaceAddress): boolean {
  return prefixLength >= widthOf(family) - 1;
}

/** What is known of the end that addresses belong to. */
type End = Pick<Group, "id" | "kind" | "addresses">;

/** Whether some are just the addresses that a host of an end could have, of the families that they are of. */
function isAllOf(end: End, some: Ranges, { owners, spare }: AddressNames): boolean {
  const { id, kind } = end;
  const all = addressesOf(end);
  if (kind === "device") return [...owners].every(([key, owner]) => owner !== id || rangesContain(some, key));
  if (kind === "host") return isAllOfHost(id, some, owners);
  if (kind !== "internet" && !rangesWithin(unionRanges(all, spare), some)) return false;
  return familiesIn(some).every((family) => rangesWithin(unionRanges(some, spare), ofFamilies(all, [family])));
}

/** Of the families that they are of; what it has on one link alone is of no account. */
function isAllOfHost(id: string, some: Ranges, owners: AddressNames["owners"]): boolean {
  const families = familiesIn(some);
  const keys = [...owners].flatMap(([key, owner]) => (owner === id ? [key] : []));
  const meant = keys.filter((key) => {
    const address = keyAddress(key);
    return families.includes(address.family) && !isLinkLocal(address);
  });
  return meant.length > 0 && meant.every((key) => rangesContain(some, key));
}

function addressesOf({ kind, addresses }: End): Ranges {
  return kind === "internet" ? PUBLIC_KEYS : addresses;
}

function ofFamilies(addresses: Ranges, families: readonly (4 | 6)[]): Ranges {
  return intersectRanges(
    addresses,
    families.map((family) => FAMILY_KEYS[family]),
  );
}

/** Families of some addresses. */
export function familiesIn(addresses: Ranges): readonly (4 | 6)[] {
  return ([4, 6] as const).filter((family) => rangesOverlap(addresses, [FAMILY_KEYS[family]]));
}

/** Whether an end has addresses of both families. */
export function isDual(end: End): boolean {
  return familiesIn(addressesOf(end)).length > 1;
}

const INTERNET: End = { id: "internet", kind: "internet", addresses: PUBLIC_KEYS };

const MOST_ITEMS = 6;

/** Families in words. */
export const VERSIONS: { readonly [family in 4 | 6]: string } = { 4: "IPv4", 6: "IPv6" };

/**
 * A set of addresses of an end in words, as short as names allow: what it has, or what of the end it lacks; empty: it is all of them.
 * `family`: the one that they are of, where that is worth a word. The end's own name says nothing about them.
 */
export function tellAddresses(addresses: Ranges, end: End, names: AddressNames, family?: 4 | 6): string {
  const version = family === undefined ? "" : VERSIONS[family];
  if (isAllOf(end, addresses, names)) return version;
  const items = itemsOf(addresses, end, names);
  const lacking = lackingOf(addresses, end, names);
  if (lacking.length > 0 && lacking.length < items.length)
    return `${version === "" ? "all" : version} but ${inShort(lacking)}`;
  const isPart = family !== undefined && items.some((item) => speaksBeside(item, family, names));
  return isPart ? partOf(version, inShort(items)) : inShort(items);
}

/** Between a version of IP and names of those that speak another one, too. */
export const OF = " of ";

/** What is there of one version of IP: of all, or of those that are named. */
export function partOf(version: string, named: string): string {
  return named === "" ? version : `${version}${OF}${named}`;
}

/** Whether a name is that of somebody who has addresses of the other family, too. */
function speaksBeside(name: string, family: 4 | 6, { networks, owners }: AddressNames): boolean {
  if (networks.some((network) => network.id === name && isDual(network))) return true;
  return [...owners].some(([key, owner]) => owner === name && keyAddress(key).family !== family);
}

/** What of an end some addresses lack, in the families that they are of; empty, too, where others are among them. */
function lackingOf(addresses: Ranges, end: End, names: AddressNames): readonly string[] {
  const all = addressesOf(end);
  if (end.kind !== "internet" && !rangesWithin(unionRanges(all, names.spare), addresses)) return [];
  // Of what has nothing of an end, such as private addresses that leave for the internet, "all but" says nothing.
  if (!rangesOverlap(all, addresses)) return [];
  const lacking = subtractRanges(ofFamilies(all, familiesIn(addresses)), addresses);
  // What no host has may be named with the rest, and names left out, where that is shorter.
  const ways = [subtractRanges(lacking, names.spare), lacking].map((each) => itemsOf(each, end, names));
  return [...ways, formatAddressSet(lacking)].reduce((best, way) => (way.length < best.length ? way : best));
}

/** Names for what is there as a whole in the families of some addresses, then prefixes and ranges. */
function itemsOf(addresses: Ranges, end: End, names: AddressNames): readonly string[] {
  const { networks, owners, spare } = names;
  const { items: wide, left: rest } = wideIn(addresses, end, names);
  const items = new Set(wide);
  let left = rest;
  for (const { id, addresses: all } of networks) {
    const own = ofFamilies(all, familiesIn(left));
    if (id === end.id || isEmptyRanges(own) || !rangesWithin(unionRanges(left, spare), own)) continue;
    items.add(id);
    left = subtractRanges(left, own);
  }
  // No network of the site is a part of the internet: where one is left out of a prefix, nothing of the internet is.
  if (end.kind === "internet") left = withoutHoles(left, names);
  const alone = left.flatMap(([low, high]) => (low === high ? [low] : []));
  // Who has another address of the end that is not there is not there as a whole.
  const possible = subtractRanges(ofFamilies(addressesOf(end), familiesIn(addresses)), rangesOf(alone));
  const partly = new Set([...owners].flatMap(([key, owner]) => (rangesContain(possible, key) ? [owner] : [])));
  for (const key of alone) {
    const owner = owners.get(key);
    if (owner === undefined || owner === end.id || partly.has(owner)) continue;
    items.add(owner);
    left = subtractRanges(left, single(key));
  }
  for (const text of formatAddressSet(left)) items.add(text);
  return [...items];
}

/** Addresses, and those between them that are all of networks. */
function withoutHoles(addresses: Ranges, { networks }: AddressNames): Ranges {
  const own = networks.reduce<Ranges>((all, network) => unionRanges(all, network.addresses), EMPTY_RANGES);
  return addresses.reduce<Ranges>((filled, [low, high]) => {
    const before = filled.at(-1)?.[1];
    const hole: Ranges = before === undefined ? EMPTY_RANGES : [[before + 1n, low - 1n]];
    const isOwn = !isEmptyRanges(hole) && rangesWithin(own, hole);
    return unionRanges(filled, isOwn ? [...hole, [low, high]] : [[low, high]]);
  }, EMPTY_RANGES);
}

type Wide = { readonly items: readonly string[]; readonly left: Ranges };

/** What is so much that no names are of use, and what there is beside it. */
function wideIn(addresses: Ranges, end: End, names: AddressNames): Wide {
  if (isEmptyRanges(addresses)) return { items: [], left: addresses };
  const families = familiesIn(addresses);
  const [family] = families;
  const version = families.length > 1 || family === undefined || !isDual(end) ? "" : `${VERSIONS[family]} `;
  const isEvery = families.every((each) => rangesWithin(addresses, [FAMILY_KEYS[each]]));
  if (isEvery) return { items: [`any ${version}address`], left: EMPTY_RANGES };
  if (!isAllOf(INTERNET, addresses, names)) return { items: [], left: addresses };
  return { items: [`public ${version}addresses`], left: subtractRanges(addresses, PUBLIC_KEYS) };
}

function inShort(items: readonly string[]): string {
  const shown = items.slice(0, MOST_ITEMS);
  const more = items.length - shown.length;
  return more > 0 ? `${shown.join(", ")} and ${more} more` : shown.join(", ");
}
