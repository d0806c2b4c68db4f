/**
 * What runs on a stack: listeners, DHCP servers and relays, advertisers, resolvers.
 */
import type { Ranges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Entry, Id, Part } from "./entry.ts";
import type { Alternatives } from "./match.ts";

/** A service of a stack. */
export type Service = Part & {
  /** Id of the stack it runs on. */
  readonly stack: Id;
} & (Listen | DhcpServer | DhcpRelay | Advertise | Resolve);

/** Answers exchanges that fit. */
export type Listen = {
  readonly kind: "listen";
  /** What it answers: protocol, ports, destination addresses. */
  readonly when: Alternatives;
  /** Interfaces whose addresses it is bound to (their settled addresses; any leg may bring the packet); "all": any address. */
  readonly boundTo: readonly Id[] | "all";
  /** True for the administration of the device. */
  readonly administers: boolean;
  /** Takes what fits and says nothing to strangers: outer packets of a tunnel. Default: it answers. */
  readonly silent?: true;
  /** The documents do not say so: printed as an assumption when a verdict rests on it. */
  readonly assumed: boolean;
};

/** Hands out IPv4 addresses on one interface (RFC 2131). */
export type DhcpServer = {
  readonly kind: "dhcp-server";
  /** Interface whose clients it serves directly; absent: serves only what relays bring to its stack. */
  readonly interface?: Id;
  /** The network handed out; a relayed request is served when its gateway address lies in it: prefix as address number and length. */
  readonly subnet: { readonly value: bigint; readonly length: number };
  /** Addresses to lend (IPv4 numbers). */
  readonly pool: Ranges;
  /** Which free address of the pool goes first. */
  readonly order: "lowest-first" | "highest-first" | "hashed";
  /** Refuses requests for addresses that are not of this network (INIT-REBOOT in a foreign network). */
  readonly authoritative: boolean;
  /** Reads raw frames (input rules do not stop it) or a socket (they do): kernel fact 26. */
  readonly reads: "frames" | "socket";
  /** Given with a PPPoE session (RFC 1332 section 3.3), without any message of DHCP. Default: by DHCP. */
  readonly bySession?: boolean;
  /** Lifetime of a lease. */
  readonly leaseSeconds: number;
  /** Addresses kept for certain clients. */
  readonly reservations: readonly Reservation[];
  /** Option 3; empty: none offered. */
  readonly routers: readonly bigint[];
  /** The lines that name them, in their order; of none the one that says so. Absent: nothing says which. */
  readonly routerLines?: readonly Origin[];
  /** Option 6; empty: none offered. */
  readonly resolvers: readonly bigint[];
  /** The lines that name them, in their order; of none the one that says so. Absent: nothing says which. */
  readonly resolverLines?: readonly Origin[];
  /** Option 15. */
  readonly domain?: string;
  /** Option 121 (RFC 3442): clients that read it ignore option 3. */
  readonly routes: readonly { readonly prefix: bigint; readonly length: number; readonly via: bigint }[];
};

/** An address kept for one hardware address. */
export type Reservation = Entry & {
  /** The hardware address that is matched. */
  readonly hardware: bigint;
  /** The IPv4 address as a number. */
  readonly value: bigint;
};

/** Carries requests of clients to servers elsewhere (RFC 2131, RFC 1542). */
export type DhcpRelay = {
  readonly kind: "dhcp-relay";
  /** Interface where clients ask; its address is the gateway address. */
  readonly interface: Id;
  /** IPv4 addresses of the servers. */
  readonly servers: readonly bigint[];
  /** Reads raw frames (input rules do not stop it) or sockets (they do); kernel fact 26. Default: sockets. */
  readonly reads?: "frames" | "socket";
  /** Source of the relayed request: the gateway address, or the address of the interface it leaves by (kernel fact 30). */
  readonly source: "gateway-address" | "egress-address";
  /**
   * Interface that requests leave by, whatever the routes say; of several, which stand for one tunnel, the one whose peer is
   * allowed the server, else the first. Absent: as routed.
   */
  readonly via?: readonly Id[];
};

/** Router advertisements (RFC 4861, RFC 8106). */
export type Advertise = {
  readonly kind: "advertise";
  /** Interface that advertises. */
  readonly interface: Id;
  /** 0: not a default router. */
  readonly routerSeconds: number;
  /** It is one only as long as it has a default route itself, as customers' routers are by default (RFC 7084 G-4, G-5). */
  readonly whileLed?: true;
  /** Rank among default routers (RFC 4191). */
  readonly preference: "low" | "medium" | "high";
  /** Prefixes as numbers, with their flags and lifetimes (RFC 4861 section 4.6.2). */
  readonly prefixes: readonly {
    readonly value: bigint;
    readonly length: number;
    readonly onLink: boolean;
    readonly autonomous: boolean;
    readonly validSeconds: number;
    readonly preferredSeconds: number;
  }[];
  /** Where a prefix would be written that was meant to be delegated and was not; absent: none is lacking. */
  readonly lacking?: Origin;
  /** IPv6 addresses of resolvers. */
  readonly resolvers: readonly bigint[];
  /** The lines that name them, in their order. Absent: nothing says which. */
  readonly resolverLines?: readonly Origin[];
  /** MTU option in bytes; absent: not sent. */
  readonly mtu?: number;
};

/** A resolver: answers names on some interfaces, asks its forwarders. */
export type Resolve = {
  readonly kind: "resolve";
  /** Interfaces it listens on. */
  readonly listen: readonly Id[];
  /** Keys of the addresses of its forwarders, in order, each with its place. */
  readonly forward: readonly { readonly address: bigint; readonly origin: Origin }[];
  /** Names it knows itself. */
  readonly records: readonly { readonly name: string; readonly address: bigint; readonly origin: Origin }[];
  /** Names that are to be known, of which no address is known before it is leased or advertised. */
  readonly lent: readonly { readonly name: string; readonly origin: Origin }[];
};
