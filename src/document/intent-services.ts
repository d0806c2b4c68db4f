/**
 * Intent of what a device serves: leases, relays, advertisements, names, and what an upstream hands out.
 */
import type { Address, Hardware, Prefix } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import type {
  AddressesOrNone,
  AddressOrName,
  AddressRange,
  List,
  Located,
  NameReference,
  NetworkOrVlans,
  NumberRange,
  Target,
} from "./values.ts";

/** In which order a pool is given out. */
export type PoolOrder = "lowest-first" | "highest-first" | "hashed";

/** A DHCPv4 server on one interface. */
export type DhcpServer = {
  /** The interface it sits on, or a network that relays bring to it. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** Pool as host numbers of the network's IPv4 prefix. */
  readonly hosts?: List<NumberRange>;
  /** Pool as addresses. */
  readonly addresses?: List<AddressRange>;
  /** Seconds a lease lasts. Default 43200 (common practice). */
  readonly leaseSeconds?: Located<number>;
  /** Which address of the pool goes first. Default `lowest-first`. */
  readonly order?: Located<PoolOrder>;
  /** Option 3. Default: the server's address on the interface. */
  readonly router?: Located<AddressesOrNone>;
  /** Option 6. Default: the server's address on the interface. */
  readonly resolvers?: Located<AddressesOrNone>;
  /** Option 15. */
  readonly domain?: Located<string>;
  /** Option 121: routes handed to clients. */
  readonly routes?: Located<readonly HandedRoute[]>;
  /** Further options, by number. */
  readonly options?: Located<readonly DhcpOption[]>;
  /** Addresses kept for certain clients. */
  readonly reservations?: Located<readonly Reservation[]>;
  /** Whether foreign requests are refused aloud. Default yes. */
  readonly authoritative?: Located<boolean>;
  /** Whether it reads raw frames, which no filter stops, or a socket. Default `socket`. */
  readonly reads?: Located<"frames" | "socket">;
};

/** A route in a lease. */
export type HandedRoute = {
  /** The whole entry. */
  readonly span: Span;
  /** Where to. */
  readonly to: Located<Prefix>;
  /** Next hop. */
  readonly via: Located<AddressOrName>;
};

/** A lease option by number. */
export type DhcpOption = {
  /** Its number, 1-254. */
  readonly code: Located<number>;
  /** The whole entry. */
  readonly span: Span;
  /** Its value: text, addresses or `0x` bytes, as written. */
  readonly value: List<string>;
};

/** An address kept for a client. */
export type Reservation = {
  /** The client: a device, or a label when `mac` is written. */
  readonly client: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** Which leg of the device. Default: the only one on that network. */
  readonly leg?: Located<string>;
  /** Hardware address that is matched. Default: that of the leg. */
  readonly mac?: Located<Hardware>;
  /** Address as a host number. */
  readonly host?: Located<number>;
  /** Address written out. */
  readonly address?: Located<Address>;
};

/** A DHCPv4 relay on one interface. */
export type DhcpRelay = {
  /** The interface that clients are on. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** The servers asked. */
  readonly to: List<AddressOrName>;
  /** The interface requests leave by. Default: as routed. */
  readonly via?: Located<string>;
  /** Source of the relayed request: its address towards the client, or towards the server (kernel fact 30). Default `client-side`. */
  readonly source?: Located<"client-side" | "server-side">;
};

/** IPv6 router advertisements on one interface. */
export type Advertise = {
  /** The interface. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** Seconds the router serves as default router; 0: never. Default 1800 (RFC 4861 section 6.2.1). */
  readonly routerLifetimeSeconds?: Located<number>;
  /** Resolvers (RFC 8106). Default: none. */
  readonly resolvers?: Located<AddressesOrNone>;
  /** Prefixes. Default: those of the interface's network. */
  readonly prefixes?: List<AdvertisedPrefix>;
  /** Whether hosts make addresses of the prefixes. Default yes. */
  readonly autonomous?: Located<boolean>;
  /** Whether the prefixes are on the link. Default yes. */
  readonly onLink?: Located<boolean>;
  /** Router preference (RFC 4191). Default `medium`. */
  readonly preference?: Located<"high" | "medium" | "low">;
  /** MTU option, in bytes. Default: not sent. */
  readonly mtu?: Located<number>;
};

/** A prefix in an advertisement. */
export type AdvertisedPrefix = Prefix;

/** A resolver. */
export type Resolver = {
  /** The whole mapping. */
  readonly span: Span;
  /** The interfaces it listens on. Default: all. */
  readonly listen?: List<string>;
  /** Whom it asks. Default: nobody. */
  readonly forward?: List<AddressOrName>;
  /** Names it answers itself. */
  readonly records?: Located<readonly NameRecord[]>;
};

/** A name and its addresses. */
export type NameRecord = {
  /** The name. */
  readonly name: Located<string>;
  /** The whole entry. */
  readonly span: Span;
  /** Its addresses. */
  readonly addresses: List<AddressOrName>;
};

/** A name of a device, and the legs whose addresses it gives. */
export type DeviceName = {
  /** The name. */
  readonly name: Located<string>;
  /** The whole entry. */
  readonly span: Span;
  /** The legs or interfaces. */
  readonly legs: List<string>;
};

/** What an upstream hands out on one port. */
export type HandsOut = {
  /** The port. */
  readonly port: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** VLAN tag that the service is in. Default: untagged. */
  readonly tag?: Located<NetworkOrVlans>;
  /** Whether the customer must come by PPPoE. Default no. */
  readonly pppoe?: Located<boolean>;
  /** Its IPv4 prefix. */
  readonly ipv4?: Located<Prefix>;
  /** Its own IPv4 address, the customer's gateway. */
  readonly router?: Located<Address>;
  /** Pool as host numbers of `ipv4`. */
  readonly hosts?: List<NumberRange>;
  /** Seconds a lease lasts. Default 3600 (common practice). */
  readonly leaseSeconds?: Located<number>;
  /** Which address goes first. Default `lowest-first`. */
  readonly order?: Located<PoolOrder>;
  /** Resolvers in the lease. Default: none. */
  readonly resolvers?: Located<AddressesOrNone>;
  /** Its IPv6 prefix on the link, advertised. */
  readonly ipv6?: Located<Prefix>;
  /** Length of the IPv6 prefix it delegates, in bits. Default: delegates none. */
  readonly delegates?: Located<number>;
  /** Whether only the first hardware address it saw is served until it is power-cycled. Default `nobody`. */
  readonly remembers?: Located<"nobody" | "first-client">;
};

/** A tunnel's end on a device. */
export type Tunnel = {
  /** Its name; ports, bonds and tunnels of a device share one namespace. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** UDP port it listens on. Default: any free one, so that it must start. */
  readonly listen?: Located<number>;
  /** Bytes each packet grows by. Default 60 over IPv4 and 80 over IPv6 (common practice). */
  readonly overheadBytes?: Located<number>;
  /** Its far ends. */
  readonly peers: Located<readonly TunnelPeer[]>;
};

/** A far end of a tunnel. */
export type TunnelPeer = {
  /** The device and its tunnel, `hill/link`. */
  readonly to: Located<NameReference>;
  /** The whole entry. */
  readonly span: Span;
  /** Where to send. Default: learned when the peer starts. */
  readonly endpoint?: Located<AddressOrName>;
  /** Prefixes that lead to this peer outbound, and that its packets may come from inbound. */
  readonly allowed: List<Target>;
};
