/**
 * Who is who once all devices are configured: interfaces by name, the networks they are in, and which addresses a
 * lease may give them. Names in rules, routes and options are resolved against it.
 */
import { addressKey, interfaceIdentifier, normalizeRanges, type Prefix, type Ranges } from "../address/index.ts";
import { prefixesOf } from "./addresses.ts";
import type { Configured } from "./configured.ts";
import { entriesOf } from "./footing.ts";
import type { RackInterface } from "./interfaces.ts";
import type { Lender, Pool } from "./lenders.ts";
import type { Names } from "./names.ts";
import type { Extent } from "./site.ts";
import type { SiteReservation } from "./site-service.ts";
import type { Wiring } from "./wiring.ts";

/** An interface with all that is known of it. */
export type Leg = {
  /** Its device. */
  readonly device: Configured;
  /** The interface. */
  readonly interface: RackInterface;
  /** Networks it is in: the declared one, else those that reach it. */
  readonly networks: readonly string[];
  /** Addresses reserved for it by name, as IPv4 numbers. */
  readonly reserved: readonly bigint[];
  /** Pools that its lease may come from. */
  readonly pools: readonly Pool[];
  /** Prefixes lent to it by servers that are in no network: upstreams, mostly. */
  readonly handed: readonly Prefix[];
};

/** Everything names can lead to. */
export type Directory = {
  /** All names. */
  readonly names: Names;
  /** Who is at the other end. */
  readonly wiring: Wiring;
  /** Where each network goes, by name. */
  readonly extents: ReadonlyMap<string, Extent>;
  /** Every interface, by `device/interface`, in document order. */
  readonly legs: ReadonlyMap<string, Leg>;
  /** Interfaces of a device, in document order. */
  readonly legsOf: (device: string) => readonly Leg[];
  /** Whether an interface, server or reservation was left out after a diagnostic, so that an address may be missing. */
  readonly isPartial: boolean;
};

/** The key of an interface; a device's name holds no `/`. */
export function legKey(device: string, name: string): string {
  return `${device}/${name}`;
}

/** Addresses that an interface has or may be lent, as keys; `unknown` where only a pool is known. */
export function addressesOf(leg: Leg, names: Names): { readonly keys: Ranges; readonly unknown: boolean } {
  const { interface: one, reserved, pools } = leg;
  const stated = one.addresses.map((address) => single(addressKey(address)));
  const leased = one.lease === undefined ? [] : leasedKeys(reserved, pools);
  const unknown = one.lease !== undefined && reserved.length === 0;
  return { keys: normalizeRanges([...stated, ...leased, ...advertisedKeys(leg, names)]), unknown };
}

function single(key: bigint): readonly [bigint, bigint] {
  return [key, key];
}

/** Keys of IPv4 addresses are their numbers. */
function leasedKeys(reserved: readonly bigint[], pools: readonly Pool[]): readonly (readonly [bigint, bigint])[] {
  if (reserved.length > 0) return reserved.map(single);
  return pools.flatMap((pool) => pool.map(({ value }) => [value.first, value.last] as const));
}

/** Addresses it forms of its networks' /64 prefixes (RFC 4862 section 5.5.3 with RFC 2464 section 4). */
function advertisedKeys({ interface: one, networks }: Leg, names: Names): readonly (readonly [bigint, bigint])[] {
  if (one.advertised === undefined) return [];
  const identifier = interfaceIdentifier(one.hardware.value);
  return networks.flatMap((name) => {
    const network = names.networks.get(name);
    const prefixes = network === undefined ? [] : prefixesOf(network);
    return prefixes
      .filter(({ value }) => value.family === 6 && value.length === 64)
      .map(({ value }) => single(addressKey({ family: 6, value: value.value | identifier })));
  });
}

/** What a server that is in no network lends, and to whom. */
export type Handed = {
  /** Whom it reaches. */
  readonly extent: Extent;
  /** Prefixes that its clients are in. */
  readonly prefixes: readonly Prefix[];
  /** Addresses lent. */
  readonly pool: Pool;
};

/** What goes into a directory. */
export type DirectoryParts = {
  /** All names. */
  readonly names: Names;
  /** Who is at the other end. */
  readonly wiring: Wiring;
  /** Where each network goes. */
  readonly extents: ReadonlyMap<string, Extent>;
  /** What each server that is in no network reaches over the wires, with what it lends: upstreams, mostly. */
  readonly handed: readonly Handed[];
  /** DHCP servers. */
  readonly lenders: readonly Lender[];
};

/** Networks of every interface, by `device/interface`. */
export function networksByLeg(extents: ReadonlyMap<string, Extent>): ReadonlyMap<string, readonly string[]> {
  const networks = new Map<string, string[]>();
  for (const [name, { interfaces }] of extents) {
    for (const one of interfaces) {
      const key = legKey(one.device, one.interface);
      const others = networks.get(key);
      if (others === undefined) networks.set(key, [name]);
      else others.push(name);
    }
  }
  return networks;
}

/** Builds the directory; `reservations` are those of all lenders. */
export function buildDirectory(
  { names, wiring, extents, handed, lenders }: DirectoryParts,
  reservations: readonly SiteReservation[],
): Directory {
  const networks = networksByLeg(extents);
  const reserved = reservedByLeg(reservations);
  const poolsByNetwork = new Map<string, Pool[]>();
  for (const { network = "", pool } of lenders)
    poolsByNetwork.set(network, [...(poolsByNetwork.get(network) ?? []), pool]);
  const lentTo = handedByLeg(handed);
  const legs = new Map<string, Leg>();
  const byDevice = new Map<string, Leg[]>();
  for (const device of wiring.devices.values()) {
    const own = device.interfaces.map((one): Leg => {
      const key = legKey(device.rack.name, one.name);
      const in_ = networks.get(key) ?? [];
      const lent = lentTo.get(key) ?? [];
      const leg = {
        device,
        interface: one,
        networks: in_,
        reserved: reserved.get(key) ?? [],
        pools: [...in_.flatMap((network) => poolsByNetwork.get(network) ?? []), ...lent.map(({ pool }) => pool)],
        handed: lent.flatMap(({ prefixes }) => prefixes),
      };
      legs.set(key, leg);
      return leg;
    });
    byDevice.set(device.rack.name, own);
  }
  const isPartial = isAnythingLost(wiring, lenders, reservations.length);
  return { names, wiring, extents, legs, legsOf: (device) => byDevice.get(device) ?? [], isPartial };
}

function isAnythingLost({ devices }: Wiring, lenders: readonly Lender[], reservations: number): boolean {
  const all = [...devices.values()];
  const servers = all.flatMap(({ rack }) => rack.intent?.dhcp?.value ?? []);
  const kept = servers.reduce((sum, { reservations: own }) => sum + (own?.value.length ?? 0), 0);
  const lostLegs = all.some(({ rack, interfaces }) => entriesOf(rack).length > interfaces.length);
  return lostLegs || servers.length > lenders.length || kept > reservations;
}

function reservedByLeg(reservations: readonly SiteReservation[]): ReadonlyMap<string, readonly bigint[]> {
  const reserved = new Map<string, bigint[]>();
  for (const { for: meant, value } of reservations) {
    if (meant === undefined) continue;
    const key = legKey(meant.device, meant.interface);
    reserved.set(key, [...(reserved.get(key) ?? []), value.value]);
  }
  return reserved;
}

function handedByLeg(handed: readonly Handed[]): ReadonlyMap<string, readonly Handed[]> {
  const lent = new Map<string, Handed[]>();
  for (const one of handed) {
    for (const reached of one.extent.interfaces) {
      const key = legKey(reached.device, reached.interface);
      lent.set(key, [...(lent.get(key) ?? []), one]);
    }
  }
  return lent;
}
