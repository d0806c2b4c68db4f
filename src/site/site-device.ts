/**
 * A device of a resolved site: what is racked, and what its intent tells it.
 */
import type { Origin, Span } from "../diagnose/index.ts";
import type { PortOf } from "./references.ts";
import type { Setting } from "./setting.ts";
import type { SiteFilter, SiteTranslate } from "./site-filter.ts";
import type {
  SiteAdmin,
  SiteAdvertise,
  SiteDhcpServer,
  SiteHandsOut,
  SiteName,
  SiteRelay,
  SiteRescue,
  SiteResolver,
  SiteServes,
} from "./site-service.ts";
import type { SiteInterface, SiteRoute, SiteTunnel } from "./site-stack.ts";
import type { SiteBridge, SiteSsid } from "./site-switching.ts";

/** A device. */
export type SiteDevice = {
  /** Its name. */
  readonly name: string;
  /** Its entry in the topology; the span is the name's. */
  readonly origin: Origin;
  /** Its entry in the intent; absent: it is told nothing. */
  readonly intent?: Origin;
  /** What it is. */
  readonly is: "router" | "switch" | "unmanaged-switch" | "access-point" | "host" | "upstream";
  /** Whose behaviour its stack has. */
  readonly profile: Setting<"linux" | "rfc">;
  /** Its ports in document order, radios of hosts behind them. */
  readonly ports: readonly SitePort[];
  /** Radios of an access point; a host's are among its ports. */
  readonly radios: readonly Setting<string>[];
  /** Ports that feed it. */
  readonly poweredBy: readonly Setting<PortOf>[];
  /** Names of the fates it shares. */
  readonly shares: readonly Setting<string>[];
  /** Bonds. */
  readonly bonds: readonly SiteBond[];
  /** Its bridge; absent: it does not switch. */
  readonly bridge?: SiteBridge;
  /** Radio networks it offers. */
  readonly ssids: readonly SiteSsid[];
  /** Radio networks it joins, the first one that somebody offers. */
  readonly joins: readonly Setting<string>[];
  /** Ends of tunnels. */
  readonly tunnels: readonly SiteTunnel[];
  /** Interfaces or legs, in document order; an upstream has one for each port it hands out on, named like the port. */
  readonly interfaces: readonly SiteInterface[];
  /** Routes beside the connected ones: gateways of interfaces first, then those written, in document order. */
  readonly routes: readonly SiteRoute[];
  /** Where a route would stand that it lacks: its list of routes, else the gateway of a leg; absent: neither is written. */
  readonly lacksRoutesAt?: Span;
  /** Whether it forwards. */
  readonly forwarding: Setting<boolean>;
  /** Check of a packet's source against the routes. */
  readonly reversePath: Setting<"none" | "loose" | "strict">;
  /** Whether it answers for an own address on every leg. */
  readonly hostModel: Setting<"weak" | "strong">;
  /** Its administration; absent: it has none. */
  readonly admin?: SiteAdmin;
  /** What it serves besides. Absent: not written; a host is then taken to listen on everything. */
  readonly serves?: Setting<readonly SiteServes[]>;
  /** Hosts only: ports that take a cable by which nobody else sends, each once; a bond that was written is its members. */
  readonly trusted: readonly Setting<string>[];
  /** DHCPv4 servers. */
  readonly dhcp: readonly SiteDhcpServer[];
  /** DHCPv4 relays. */
  readonly relays: readonly SiteRelay[];
  /** Router advertisements. */
  readonly advertise: readonly SiteAdvertise[];
  /** Resolver. */
  readonly resolver?: SiteResolver;
  /** Names that the site's resolvers give for it. */
  readonly names: readonly SiteName[];
  /** Filter lists; absent: accepts all. */
  readonly filter?: SiteFilter;
  /** Address translation. */
  readonly translate?: SiteTranslate;
  /** Upstreams only: what each port hands out. */
  readonly handsOut: readonly SiteHandsOut[];
  /** Accesses that are claimed to work when all else fails. */
  readonly rescue: readonly SiteRescue[];
  /** What survives a restart. */
  readonly saves: Setting<"at-once" | "when-told" | "nothing">;
};

/** A socket, or the radio of a host. */
export type SitePort = {
  /** Its name. */
  readonly name: string;
  /** Its entry. */
  readonly origin: Origin;
  /** True for the radio of a host. */
  readonly radio: boolean;
  /** Line rate in Mbit/s; 0 for a radio. */
  readonly rateMbps: Setting<number>;
  /** Largest IP packet in bytes. */
  readonly mtu: Setting<number>;
  /** False when switched off. */
  readonly enabled: Setting<boolean>;
  /** Hardware address, 48 bits. */
  readonly hardware: Setting<bigint>;
  /** What it is used for: a bond's member (then `bond` names it), part of the bridge, carrying interfaces only, or nothing. */
  readonly use: "member" | "switched" | "routed" | "unused";
  /** The bond it is a member of. */
  readonly bond?: string;
};

/** Several ports used as one. */
export type SiteBond = {
  /** Its name. */
  readonly name: string;
  /** Its entry. */
  readonly origin: Origin;
  /** Member ports, in the order that counts. */
  readonly members: readonly Setting<string>[];
  /** How the members agree. */
  readonly mode: Setting<"lacp" | "static" | "active-backup">;
  /** LACP: who speaks first. */
  readonly activity: Setting<"active" | "passive">;
  /** LACP: each second, or each 30 seconds. */
  readonly speed: Setting<"fast" | "slow">;
  /** LACP: what carries while no partner answers. */
  readonly alone: Setting<"first-member" | "none">;
  /** Members that must be fit to carry for any to carry; absent: one is enough. */
  readonly minimum?: Setting<number>;
  /** What picks a flow's member. */
  readonly hash: Setting<"layer2" | "layer2+3" | "layer3+4">;
  /** Hardware address. */
  readonly hardware: Setting<bigint>;
  /** Largest IP packet in bytes: the least of its members'. */
  readonly mtu: Setting<number>;
};
