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
  readonly kind: "equal-path" | "bond-member" | "lease-server" | "access-point" | "unmanaged-habit" | "source-port" | "neighbour-owner";
  /** Ids or words, in order; the first is taken where nobody picks. */
  readonly options: readonly Id[];
};

/** One option of one choice. */
export type Pick = {
  readonly choice: Id;
  readonly option: Id;
};

/** A bond after its partners were heard. */
export type SettledBond = {
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
  readonly bridge: Id;
  /** Id of the `BridgePort`. */
  readonly port: Id;
  readonly origin: Origin;
};

/** A loop that nothing cuts: every frame in these domains is lost in the storm. */
export type Storm = {
  /** Bridge ports on the loop. */
  readonly ports: readonly Id[];
  /** Domains hit: bridge and VLAN (absent: all of a bridge that ignores tags). */
  readonly domains: readonly { readonly bridge: Id; readonly vlan?: number }[];
  readonly origin: Origin;
};

/** A lease or an advertised address that an interface holds. */
export type Binding = {
  readonly interface: Id;
  readonly family: 4 | 6;
  readonly value: bigint;
  readonly prefixLength: number;
  /** Id of the service that gave it. */
  readonly server: Id;
  /** Every server that offered, the taken one first. */
  readonly offered: readonly Id[];
  /** Gateways (option 3, 121 or the advertiser), as numbers of the family. */
  readonly routes: readonly { readonly prefix: bigint; readonly length: number; readonly via?: bigint }[];
  readonly resolvers: readonly bigint[];
  readonly seconds: number;
  readonly origin: Origin;
};

/** An interface with all addresses it has now. */
export type SettledInterface = {
  readonly interface: Id;
  /** Its attachment has carrier. */
  readonly up: boolean;
  readonly addresses: readonly InterfaceAddress[];
};

/** A stack with all it learned. */
export type SettledStack = {
  readonly stack: Id;
  /** As in the stack's own order. */
  readonly interfaces: readonly SettledInterface[];
  /** Static, connected and learned routes; sorted as `RouteTable.routes`; those through interfaces that are down are absent. */
  readonly routes: readonly Route[];
  /** Address keys of resolvers it knows. */
  readonly resolvers: readonly bigint[];
};

/** The site at rest. */
export type Settled = {
  /** Under these picks. */
  readonly picks: readonly Pick[];
  /** Ports, links and bonds without carrier. Sorted. */
  readonly down: readonly Id[];
  /** One for each bond. */
  readonly bonds: readonly SettledBond[];
  readonly blocked: readonly TreeBlock[];
  readonly storms: readonly Storm[];
  readonly bindings: readonly Binding[];
  /** One for each stack of the network. */
  readonly stacks: readonly SettledStack[];
  /** What stays open. */
  readonly choices: readonly Choice[];
};
