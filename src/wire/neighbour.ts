/**
 * Neighbour discovery (RFC 4861 sections 4.1 to 4.4): router solicitation and advertisement, neighbour solicitation
 * and advertisement, each an ICMPv6 message with a list of options. Redirects stay plain ICMPv6.
 */
import type { Address } from "../address/index.ts";
import type { NeighbourOption } from "./neighbour-options.ts";

/** ICMPv6 type of a router solicitation. */
export const ROUTER_SOLICITATION = 133;
/** ICMPv6 type of a router advertisement. */
export const ROUTER_ADVERTISEMENT = 134;
/** ICMPv6 type of a neighbour solicitation. */
export const NEIGHBOUR_SOLICITATION = 135;
/** ICMPv6 type of a neighbour advertisement. */
export const NEIGHBOUR_ADVERTISEMENT = 136;

/** A host asks routers to advertise now. RFC 4861 section 4.1. */
export type RouterSolicitation = {
  /** Which message. */
  readonly kind: "router-solicitation";
  /** In order of appearance. */
  readonly options: readonly NeighbourOption[];
};

/** A router says what it offers. RFC 4861 section 4.2. */
export type RouterAdvertisement = {
  /** Which message. */
  readonly kind: "router-advertisement";
  /** Hop limit that hosts should use; 0 says nothing. */
  readonly hopLimit: number;
  /** Flag M: addresses by DHCPv6. */
  readonly managed: boolean;
  /** Flag O: other settings by DHCPv6. */
  readonly other: boolean;
  /** Router preference, two bits (RFC 4191, from memory): 0 medium, 1 high, 3 low, 2 reserved. */
  readonly preference: number;
  /** How long this router serves as default router; 0: not at all. */
  readonly routerLifetimeSeconds: number;
  /** How long a neighbour counts as reachable; 0 says nothing. */
  readonly reachableMs: number;
  /** Time between solicitations; 0 says nothing. */
  readonly retransmitMs: number;
  /** In order of appearance. */
  readonly options: readonly NeighbourOption[];
};

/** A node asks for the hardware address of `target`. RFC 4861 section 4.3. */
export type NeighbourSolicitation = {
  /** Which message. */
  readonly kind: "neighbour-solicitation";
  /** IPv6 address asked for; never multicast. */
  readonly target: Address;
  /** In order of appearance. */
  readonly options: readonly NeighbourOption[];
};

/** A node answers for `target`. RFC 4861 section 4.4. */
export type NeighbourAdvertisement = {
  /** Which message. */
  readonly kind: "neighbour-advertisement";
  /** IPv6 address answered for. */
  readonly target: Address;
  /** Flag R: the sender is a router. */
  readonly router: boolean;
  /** Flag S: this answers a solicitation. */
  readonly solicited: boolean;
  /** Flag O: replace what is cached. */
  readonly override: boolean;
  /** In order of appearance. */
  readonly options: readonly NeighbourOption[];
};

/** Any of the four messages. */
export type NeighbourMessage =
  | RouterSolicitation
  | RouterAdvertisement
  | NeighbourSolicitation
  | NeighbourAdvertisement;
