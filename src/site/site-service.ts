/**
 * What devices of a resolved site serve: administration, listeners, leases, relays, advertisements, names.
 */
import type { Address, Prefix, Service } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Setting } from "./setting.ts";

/** Interfaces something listens on; `all`: every one. */
export type SiteListen = Setting<"all" | readonly Setting<string>[]>;

/** How a device is administered. */
export type SiteAdmin = {
  /** The whole mapping. */
  readonly origin: Origin;
  /** The services. */
  readonly services: readonly Setting<Service>[];
  /** Where it listens. */
  readonly listen: SiteListen;
};

/** A service of a device. */
export type SiteServes = {
  /** Its entry. */
  readonly origin: Origin;
  /** The service. */
  readonly service: Setting<Service>;
  /** Where it listens. */
  readonly listen: SiteListen;
};

/** A DHCPv4 server for one network. */
export type SiteDhcpServer = {
  /** The interface it sits on, or the network that relays bring to it, as written. */
  readonly name: string;
  /** Its entry. */
  readonly origin: Origin;
  /** Interface whose clients it serves directly; absent: only what relays bring. */
  readonly interface?: string;
  /** The prefix it hands out addresses of. */
  readonly subnet: Setting<Prefix>;
  /** Runs of IPv4 addresses to lend, both ends inclusive. */
  readonly pool: readonly Setting<{
    /** First address as a number. */
    readonly first: bigint;
    /** Last address as a number. */
    readonly last: bigint;
  }>[];
  /** Seconds a lease lasts. */
  readonly leaseSeconds: Setting<number>;
  /** Which address goes first. */
  readonly order: Setting<"lowest-first" | "highest-first" | "hashed">;
  /** Option 3; empty: none offered. */
  readonly routers: Setting<readonly Setting<bigint>[]>;
  /** Option 6; empty: none offered. */
  readonly resolvers: Setting<readonly Setting<bigint>[]>;
  /** Option 15. */
  readonly domain?: Setting<string>;
  /** Option 121. */
  readonly routes: readonly Setting<{
    /** Where to. */
    readonly to: Prefix;
    /** Next hop, an IPv4 number. */
    readonly via: bigint;
  }>[];
  /** Addresses kept for certain clients. */
  readonly reservations: readonly SiteReservation[];
  /** Refuses foreign requests aloud. */
  readonly authoritative: Setting<boolean>;
  /** Reads raw frames, or a socket. */
  readonly reads: Setting<"frames" | "socket">;
};

/** An address kept for a client. */
export type SiteReservation = {
  /** Its name as written: a device or a label. */
  readonly client: string;
  /** Its entry. */
  readonly origin: Origin;
  /** Hardware address that is matched. */
  readonly hardware: Setting<bigint>;
  /** The interface it is meant for; absent: a label. */
  readonly for?: {
    /** The device. */
    readonly device: string;
    /** Its leg. */
    readonly interface: string;
  };
  /** The address as a number. */
  readonly value: Setting<bigint>;
};

/** A DHCPv4 relay. */
export type SiteRelay = {
  /** The interface that clients are on. */
  readonly interface: string;
  /** Its entry. */
  readonly origin: Origin;
  /** Servers asked, IPv4 numbers. */
  readonly servers: readonly Setting<bigint>[];
  /** Source of the relayed request. */
  readonly source: Setting<"client-side" | "server-side">;
  /** Name of the interface that requests leave by, whatever the routes say; absent: as routed. */
  readonly via?: Setting<string>;
};

/** Router advertisements on one interface. */
export type SiteAdvertise = {
  /** The interface. */
  readonly interface: string;
  /** Its entry. */
  readonly origin: Origin;
  /** Seconds it serves as default router; 0: never. */
  readonly routerLifetimeSeconds: Setting<number>;
  /** Router preference. */
  readonly preference: Setting<"high" | "medium" | "low">;
  /** Prefixes. */
  readonly prefixes: readonly Setting<Prefix>[];
  /** Where a prefix would be written that its network was meant to be delegated; absent: it lacks none. */
  readonly lacking?: Origin;
  /** Whether hosts make addresses of the prefixes. */
  readonly autonomous: Setting<boolean>;
  /** Whether the prefixes are on the link. */
  readonly onLink: Setting<boolean>;
  /** Resolvers, IPv6 numbers. */
  readonly resolvers: readonly Setting<bigint>[];
  /** MTU option in bytes; absent: not sent. */
  readonly mtu?: Setting<number>;
};

/** A resolver. */
export type SiteResolver = {
  /** The whole mapping. */
  readonly origin: Origin;
  /** Where it listens. */
  readonly listen: SiteListen;
  /** Whom it asks. */
  readonly forward: readonly Setting<Address>[];
  /** Names it answers itself, one entry an address. */
  readonly records: readonly SiteRecord[];
};

/** A name and one of its addresses. */
export type SiteRecord = {
  /** The name. */
  readonly name: string;
  /** The address. */
  readonly address: Address;
  /** The word that says so. */
  readonly origin: Origin;
};

/** A name of a device. */
export type SiteName = {
  /** The name. */
  readonly name: string;
  /** Its entry. */
  readonly origin: Origin;
  /** Interfaces whose addresses it gives. */
  readonly interfaces: readonly Setting<string>[];
};

/** What an upstream hands out on one port. */
export type SiteHandsOut = {
  /** The port; the upstream's interface there bears the same name. */
  readonly port: string;
  /** Its entry. */
  readonly origin: Origin;
  /** Its IPv4 prefix. */
  readonly ipv4?: Setting<Prefix>;
  /** Its own IPv4 address there. */
  readonly router?: Setting<bigint>;
  /** Runs of IPv4 addresses to lend; empty: lends none. */
  readonly pool: readonly Setting<{
    /** First address as a number. */
    readonly first: bigint;
    /** Last address as a number. */
    readonly last: bigint;
  }>[];
  /** Seconds a lease lasts. */
  readonly leaseSeconds: Setting<number>;
  /** Which address goes first. */
  readonly order: Setting<"lowest-first" | "highest-first" | "hashed">;
  /** Resolvers in the lease, IPv4 numbers. */
  readonly resolvers: readonly Setting<bigint>[];
  /** Its IPv6 prefix on the link, advertised. */
  readonly ipv6?: Setting<Prefix>;
  /** Whether it delegates IPv6 prefixes there. */
  readonly delegates: boolean;
  /** Whether only the first hardware address it saw is served until it is power-cycled. */
  readonly remembers: Setting<"nobody" | "first-client">;
};

/** A claimed access. */
export type SiteRescue = {
  /** The whole mapping. */
  readonly origin: Origin;
  /** The port one plugs into. */
  readonly port: Setting<string>;
  /** The address one takes there; `lease`: by lease. */
  readonly address: Setting<"lease" | Address>;
  /** Devices whose administration is reached from there. */
  readonly reaches: readonly Setting<string>[];
};
