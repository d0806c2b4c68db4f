/**
 * What a site becomes when left alone under given picks: results of link state, bonding, spanning tree and leases.
 * Engines read `(Network, Settled)`. Everything here is derived; nothing is configuration.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Entry, Id } from "./entry.ts";
import type { InterfaceAddress } from "./stack.ts";
import type { Route } from "./tables.ts";

/** Something the documents leave open; an assertion must hold under every option. */
export type Choice = Entry & {
  /** What is open. */
  readonly kind:
    | "equal-path"
    | "bond-member"
    | "lease-server"
    | "advertiser"
    | "access-point"
    | "unmanaged-habit"
    | "router"
    | "source-port"
    | "neighbour-owner";
  /** Ids or words, in order; the first is taken where nobody picks. */
  readonly options: readonly Id[];
};

/** One option of one choice. */
export type Pick = {
  /** Id of the choice. */
  readonly choice: Id;
  /** The option taken. */
  readonly option: Id;
};

/** A bond after its partners were heard. */
export type SettledBond = {
  /** Id of the bond. */
  readonly bond: Id;
  /** Members that send, in the order of joining; empty: no carrier. */
  readonly sends: readonly Id[];
  /** Members that take what arrives. */
  readonly takes: readonly Id[];
  /** Why the others do not: shown when a frame dies there. */
  readonly origin: Origin;
};

/** A bridge port that the spanning tree keeps from forwarding. */
export type TreeBlock = {
  /** Id of the bridge. */
  readonly bridge: Id;
  /** Id of the `BridgePort`. */
  readonly port: Id;
  /** What decided: a cost, a priority, or the tree itself. */
  readonly origin: Origin;
};

/** A loop that nothing cuts: every frame in these domains is lost in the storm. */
export type Storm = {
  /** Bridge ports on the loop. */
  readonly ports: readonly Id[];
  /** Domains hit: bridge and VLAN (absent: all of a bridge that ignores tags). */
  readonly domains: readonly { readonly bridge: Id; readonly vlan?: number }[];
  /** The line to show: a cable on the loop. */
  readonly origin: Origin;
};

/** A lease that an interface holds. */
export type Lease = Brought & {
  /** Leases are of IPv4. */
  readonly family: 4;
  /** The address as a number of 32 bits. */
  readonly value: bigint;
  /** Length of the on-link prefix. */
  readonly prefixLength: number;
};

/** What an interface made of an advertisement: an address with routes, or routes alone. */
export type AdvertisedBinding = Brought & {
  /** Advertisements are of IPv6. */
  readonly family: 6;
  /** The address as a number of 128 bits; absent: no prefix made one. */
  readonly value?: bigint;
  /** Length of the on-link prefix that the address is in; 128: of none. */
  readonly prefixLength: number;
  /** Its preferred lifetime is over. Default: it is preferred. */
  readonly deprecated?: true;
};

/** What an interface was given. */
export type Binding = Lease | AdvertisedBinding;

/** What comes of a lease and of an advertisement alike. */
type Brought = {
  /** Interface that holds it. */
  readonly interface: Id;
  /** Id of the service that gave it. */
  readonly server: Id;
  /** Every server that offered, the taken one first. */
  readonly offered: readonly Id[];
  /** Gateways (option 3, 121 or the advertiser), as numbers of the family; `via` absent: what is on the link itself. */
  readonly routes: readonly { readonly prefix: bigint; readonly length: number; readonly via?: bigint }[];
  /** Resolvers told, as numbers of the family. */
  readonly resolvers: readonly bigint[];
  /** Lifetime. */
  readonly seconds: number;
  /** What gave it: a pool, a reservation, an advertised prefix. */
  readonly origin: Origin;
};

/** An interface with all addresses it has now. */
export type SettledInterface = {
  /** Id of the interface. */
  readonly interface: Id;
  /** Its attachment has carrier; an interface of a session has a peer, too. */
  readonly up: boolean;
  /**
   * Of an interface of a session or tunnel: interfaces at the far ends, a client's or tunnel's one or a server's many. A client
   * sends everything to its peer, a server each packet to the peer that has the next hop's address. Absent: neither.
   */
  readonly peers?: readonly Id[];
  /** Stated, leased and advertised ones. */
  readonly addresses: readonly InterfaceAddress[];
  /** Subnet-router anycast addresses that it answers for besides (RFC 4291 section 2.6.1): packets come to them, few leave. */
  readonly anycast: readonly InterfaceAddress[];
};

/** A stack with all it learned. */
export type SettledStack = {
  /** Id of the stack. */
  readonly stack: Id;
  /** As in the stack's own order. */
  readonly interfaces: readonly SettledInterface[];
  /** Static, connected and learned routes; sorted as `RouteTable.routes`; those through interfaces that are down are absent. */
  readonly routes: readonly Route[];
  /**
   * Those that tell where a source belongs, in the same order but for the preference of advertised ones, which does not count
   * there: of one metric the written one is asked, and routes by routers that are given up count, too. Absent: as `routes`.
   */
  readonly routesBack?: readonly Route[];
  /** Address keys of the resolvers it asks, in order: those written for its interfaces, then those it was told. */
  readonly resolvers: readonly bigint[];
};

/** A router that a host has a route by. */
export type Router = {
  /** The interface that it is reached by. */
  readonly interface: Id;
  /** Its IPv6 address as a number of 128 bits. */
  readonly via: bigint;
  /** The route. */
  readonly origin: Origin;
};

/** A prefix that would be delegated to an interface and did not come to it. */
export type Undelegated = {
  /** The interface that asks. */
  readonly interface: Id;
  /** First address of the stand-in, as a number of 128 bits. */
  readonly value: bigint;
  /** Length of the stand-in. */
  readonly length: number;
  /** Deciding lines, the primary one first. */
  readonly because: readonly Origin[];
  /** A sentence: "gw/wan got no prefix: the answer was dropped by gw". */
  readonly text: string;
  /** What was turned away; absent: nobody could be asked. */
  readonly what?: "request" | "answer";
  /** What the document says of the rule whose action nobody knows, where that decides. */
  readonly unknown?: string;
};

/** The site at rest. */
export type Settled = {
  /** Under these picks. */
  readonly picks: readonly Pick[];
  /** Ports, links and bonds without carrier. Sorted. */
  readonly down: readonly Id[];
  /** One for each bond. */
  readonly bonds: readonly SettledBond[];
  /** Ports that the spanning tree blocks. */
  readonly blocked: readonly TreeBlock[];
  /** Loops that nothing cuts. */
  readonly storms: readonly Storm[];
  /** Leases and advertised addresses. */
  readonly bindings: readonly Binding[];
  /** Prefixes that did not come, which no stack has an address or a route of. Absent: nobody was asked, or all of them came. */
  readonly undelegated?: readonly Undelegated[];
  /** One for each stack of the network. */
  readonly stacks: readonly SettledStack[];
  /** Routers that hosts have given up, since they do not answer. */
  readonly givenUp: readonly Router[];
  /** What stays open. */
  readonly choices: readonly Choice[];
};
