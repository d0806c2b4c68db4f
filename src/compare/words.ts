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
  /** Addresses that no host of a network has: those of managed devices, and the first and last of each IPv4 prefix. */
  readonly spare: Ranges;
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
  const ends = legs.flatMap(({ address }) => (address.family === 4 ? endsOf(address) : []));
  return {
    networks: groups.filter(({ kind }) => kind === "network"),
    owners: new Map(legs.map(({ key, owner }) => [key, owner])),
    managed: new Map(managed.map(({ key, address }) => [key, subnetOf(address)])),
    spare: rangesOf([...managed.map(({ key }) => key), ...ends]),
  };
}

function subnetOf(address: InterfaceAddress): Ranges {
  return [prefixKeys(prefixOf(address, address.prefixLength))];
}

function endsOf(address: InterfaceAddress): readonly bigint[] {
  const prefix = prefixOf(address, address.prefixLength);
  return [addressKey(firstAddress(prefix)), addressKey(lastAddress(prefix))];
}

/** What is known of the end that addresses belong to. */
type End = Pick<Group, "id" | "kind" | "addresses">;

/** Whether some are just the addresses that a host of an end could have, of the families that they are of. */
export function isAllOf({ id, kind, addresses }: End, some: Ranges, { owners, spare }: AddressNames): boolean {
  const isBeyond = kind === "internet";
  const all = isBeyond ? PUBLIC_KEYS : addresses;
  if (kind === "device") return [...owners].every(([key, owner]) => owner !== id || rangesContain(some, key));
  if (!isBeyond && !rangesWithin(unionRanges(all, spare), some)) return false;
  return ([4, 6] as const).every((family) => {
    const keys = [FAMILY_KEYS[family]];
    return !rangesOverlap(some, keys) || rangesWithin(unionRanges(some, spare), intersectRanges(all, keys));
  });
}

const INTERNET: End = { id: "internet", kind: "internet", addresses: PUBLIC_KEYS };

const MOST_ITEMS = 6;

/** A set of addresses of an end in words, as short as names allow; its own name says nothing about them. */
export function tellAddresses(addresses: Ranges, { id: end }: Pick<Group, "id">, names: AddressNames): string {
  const { networks, owners } = names;
  const isAny = !isEmptyRanges(addresses) && isAllOf(INTERNET, addresses, names);
  const items = new Set(isAny ? ["any address"] : []);
  let left = isAny ? EMPTY_RANGES : addresses;
  for (const { id, addresses: own } of networks) {
    if (id === end || isEmptyRanges(own) || !rangesWithin(left, own)) continue;
    items.add(id);
    left = subtractRanges(left, own);
  }
  for (const [key, owner] of owners) {
    if (owner === end || !rangesContain(left, key) || !left.some(([low, high]) => low === key && high === key))
      continue;
    items.add(owner);
    left = subtractRanges(left, single(key));
  }
  for (const text of formatAddressSet(left)) items.add(text);
  const shown = [...items].slice(0, MOST_ITEMS);
  const more = items.size - shown.length;
  return more > 0 ? `${shown.join(", ")} and ${more} more` : shown.join(", ");
}
