/**
 * The site: everything that was written, with names resolved, ranges and roles expanded, defaults of the documents
 * filled in, and every span kept. `kernel/`, `report/` and `compile/` read it; nothing in it depends on the order of hooks.
 *
 * Guarantees: plain readonly data; names that refer to something refer to something that is here (a device, a network,
 * an interface of that device, ...); lists keep document order; no record is keyed by user text.
 */
import type { Prefix } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { InterfaceReference, PortOf, SiteTarget } from "./references.ts";
import type { Setting } from "./setting.ts";
import type { SiteDevice } from "./site-device.ts";

/** A whole site. */
export type Site = {
  /** Networks, in document order. */
  readonly networks: readonly SiteNetwork[];
  /** Named sets, in document order. */
  readonly sets: readonly SiteSet[];
  /** Devices of the topology, in document order, each with what the intent tells it. */
  readonly devices: readonly SiteDevice[];
  /** Cables, in document order. */
  readonly cables: readonly SiteCable[];
  /** Things that take several cables or devices down together, in document order. */
  readonly fates: readonly SiteFate[];
};

/** A network. */
export type SiteNetwork = {
  /** Its name. */
  readonly name: string;
  /** Its entry; the span is the name's. */
  readonly origin: Origin;
  /** Its VLAN number, 1..4094; absent: it is never tagged and crosses no managed switch. */
  readonly vlan?: Setting<number>;
  /** Its prefixes, IPv4 before IPv6, each in the order written; host numbers count in the first of IPv4 and in each of IPv6. */
  readonly prefixes: readonly Setting<Prefix>[];
  /** A prefix of it is to be delegated, and is not: where that would be said. Absent: it has all that it is to have. */
  readonly lacking?: Origin;
  /** Where it goes: see `Extent`. */
  readonly extent: Extent;
};

/**
 * Where a network (or what an upstream hands out) goes on the wires: the bridging domains that carry it and the
 * interfaces it reaches. A domain is a VLAN of a bridge, or the whole of a bridge that ignores tags. Besides the domains
 * of its own VLAN number it takes in unmanaged switches and VLANs that no network claims (a switch as unboxed), wherever
 * its cables lead into them; it never takes in another network's VLAN, however the cables leak.
 */
export type Extent = {
  /** Domains, by device in document order. `vlan` absent: the whole bridge, which ignores tags. */
  readonly domains: readonly {
    /** Device whose bridge it is. */
    readonly device: string;
    /** VLAN in that bridge. */
    readonly vlan?: number;
  }[];
  /** Interfaces declared in it or reached by it, by device in document order. */
  readonly interfaces: readonly InterfaceReference[];
};

/** A set with all that is in it, sets in sets unfolded; each member once, the first mention counts. */
export type SiteSet = {
  /** Its name. */
  readonly name: string;
  /** Its entry; the span is the name's. */
  readonly origin: Origin;
  /** Its members in the order written or, for `every`, in document order. */
  readonly members: readonly Setting<SiteTarget>[];
};

/** A duct, a power strip, a pole. */
export type SiteFate = {
  /** Its name. */
  readonly name: string;
  /** Its entry. */
  readonly origin: Origin;
  /** What it is, in words for people. */
  readonly note: string;
};

/** A cable. */
export type SiteCable = {
  /** Its entry. */
  readonly origin: Origin;
  /** The two ports, in the order written. */
  readonly ends: readonly [PortOf, PortOf];
  /** What it limits the rate to, in Mbit/s; absent: no limit of its own. */
  readonly rateMbps?: Setting<number>;
  /** Names of the fates it shares. */
  readonly shares: readonly Setting<string>[];
};
