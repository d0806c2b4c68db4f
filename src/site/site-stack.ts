/**
 * The network layer of a resolved site: interfaces with their addresses, and routes.
 */
import type { Address, Family, Prefix } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { PortOf } from "./references.ts";
import type { Setting } from "./setting.ts";

/** What an interface stands on. */
export type SiteFooting =
  | {
      /** A port, a radio or a bond of the device. */
      readonly on: "port";
      /** Its name. */
      readonly port: string;
    }
  | {
      /** A tunnel of the device: an interface to each of its peers. */
      readonly on: "tunnel";
      /** Its name. */
      readonly port: string;
    }
  | {
      /** The bridge's own port. */
      readonly on: "bridge";
    };

/** An end of a tunnel. */
export type SiteTunnel = {
  /** Its name; ports, bonds and tunnels of a device share one namespace. */
  readonly name: string;
  /** Its entry; the span is the name's. */
  readonly origin: Origin;
  /** UDP port that outer packets come to; absent: any free one, so that this end must start. */
  readonly listen?: Setting<number>;
  /** Its far ends, in document order. */
  readonly peers: readonly SiteTunnelPeer[];
};

/** A far end of a tunnel. */
export type SiteTunnelPeer = {
  /** Its device. */
  readonly device: string;
  /** Its tunnel there. */
  readonly tunnel: string;
  /** Its entry. */
  readonly origin: Origin;
  /** Where outer packets are sent; absent: learned when the peer starts. */
  readonly endpoint?: Setting<Address>;
  /** Prefixes of inner addresses behind it, in document order; several peers may be allowed the same. */
  readonly allowed: Setting<readonly Prefix[]>;
  /** Where the far end would name this one, and does not; absent: it does. */
  readonly lacking?: Origin;
};

/** An interface, or a leg of a host. */
export type SiteInterface = {
  /** Its name. */
  readonly name: string;
  /** Its entry; the span is the name's. */
  readonly origin: Origin;
  /** What it stands on. */
  readonly footing: SiteFooting;
  /** Tag of its frames; absent: untagged. */
  readonly vlan?: Setting<number>;
  /** The network it was declared in. */
  readonly network?: Setting<string>;
  /** Networks it is in: the declared one, else those that reach it. */
  readonly networks: readonly string[];
  /** Addresses stated, in the order host number, IPv4, IPv6. */
  readonly addresses: readonly SiteAddress[];
  /** Takes a DHCPv4 lease. */
  readonly lease?: Origin;
  /** Forms addresses of advertised prefixes (RFC 4862). */
  readonly advertised?: Origin;
  /** Speaks PPPoE on what it stands on. */
  readonly session?: SiteSession;
  /** Asks for a prefix that networks are cut from; such an interface forms addresses of advertised prefixes too. */
  readonly delegation?: SiteDelegation;
  /** Speaks IPv6: has a link-local address. */
  readonly speaks6: Setting<boolean>;
  /** Written gateways; `[]` for the word `none`: takes no default route from lease or advertisement either. Absent: not written. */
  readonly gateways?: Setting<readonly Setting<Address>[]>;
  /** Written resolvers; `[]` for the word `none`. Absent: as learned. */
  readonly resolvers?: Setting<readonly Setting<Address>[]>;
  /** Hardware address. */
  readonly hardware: Setting<bigint>;
  /** True where the hardware address is a private one, which no reservation by name matches. */
  readonly privateHardware: boolean;
  /** Largest IP packet in bytes. */
  readonly mtu: Setting<number>;
};

/** An end of PPPoE sessions. */
export type SiteSession = {
  /** A customer calls, a provider is called. */
  readonly role: "client" | "server";
  /** The word `pppoe` or what it says. */
  readonly origin: Origin;
};

/** What becomes of the wish for a delegated prefix. */
export type SiteDelegation = {
  /** The word that asks. */
  readonly origin: Origin;
  /** What is granted; absent: nobody delegates. */
  readonly granted?: {
    /** The block that stands for what the provider gives; the span is that of its length. */
    readonly block: Setting<Prefix>;
    /** The upstream's port. */
    readonly by: PortOf;
  };
  /** Where it would be written that somebody delegates; present where nothing is granted. */
  readonly lacking?: Origin;
};

/** A stated address. */
export type SiteAddress = {
  /** Version of the protocol. */
  readonly family: Family;
  /** The address as a number. */
  readonly value: bigint;
  /** Length of the on-link prefix in bits. */
  readonly length: number;
  /** The host number or the address written. */
  readonly origin: Origin;
};

/** A route to one prefix. */
export type SiteRoute = {
  /** Its entry, or the gateway of an interface. */
  readonly origin: Origin;
  /** Where to. */
  readonly to: Prefix;
  /** Lower wins among equal prefixes. */
  readonly metric: number;
  /** What becomes of packets: sent on by one of the hops, or turned away. */
  readonly action: "forward" | "blackhole" | "unreachable" | "prohibit";
  /** Hops of equal rank; none unless `forward`. */
  readonly hops: readonly SiteHop[];
};

/** A next hop. */
export type SiteHop = {
  /** Interface it leaves by. */
  readonly interface: string;
  /** Next hop; absent: on link. */
  readonly via?: Address;
  /** The word that names it. */
  readonly origin: Origin;
};
