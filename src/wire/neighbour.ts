/**
 * Neighbour discovery (RFC 4861 sections 4.1 to 4.4): router solicitation and advertisement, neighbour solicitation
 * and advertisement, each an ICMPv6 message with a list of options. Redirects stay plain ICMPv6.
 */
import { type Address, formatAddress } from "../address/index.ts";
import { addressBytes, bytesOf, concat, getAddress6, put8, put16, put32, viewOf } from "./bytes.ts";
import type { IcmpMessage } from "./icmp.ts";
import { describeIcmpv6 } from "./icmpv6.ts";
import { isMalformed, type Malformed, truncated } from "./malformed.ts";
import {
  describeNeighbourOption,
  emitNeighbourOptions,
  type NeighbourOption,
  parseNeighbourOptions,
} from "./neighbour-options.ts";

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

const FIXED_LENGTHS: ReadonlyMap<number, number> = new Map([
  [ROUTER_SOLICITATION, 4],
  [ROUTER_ADVERTISEMENT, 12],
  [NEIGHBOUR_SOLICITATION, 20],
  [NEIGHBOUR_ADVERTISEMENT, 20],
]);
const TARGET_AT = 4;

/**
 * Reads an ICMPv6 message of types 133 to 136. `unsupported` for other types and for a code that is not 0: such
 * messages stay plain ICMPv6. Whether the hop limit was 255 is the stack's affair.
 */
export function parseNeighbour(message: IcmpMessage): NeighbourMessage | Malformed {
  const fixed = FIXED_LENGTHS.get(message.type);
  if (fixed === undefined || message.code !== 0)
    return { malformed: "unsupported", protocol: "neighbour discovery", problem: describeIcmpv6(message) };
  if (message.bytes.length < fixed) return truncated("neighbour discovery", fixed, message.bytes.length);
  const options = parseNeighbourOptions(message.bytes.subarray(fixed));
  if (isMalformed(options)) return options;
  const view = viewOf(message.bytes);
  switch (message.type) {
    case ROUTER_SOLICITATION:
      return { kind: "router-solicitation", options };
    case ROUTER_ADVERTISEMENT:
      return parseRouterAdvertisement(view, options);
    case NEIGHBOUR_SOLICITATION:
      return { kind: "neighbour-solicitation", target: getAddress6(view, TARGET_AT), options };
    default:
      return parseNeighbourAdvertisement(view, options);
  }
}

/** Writes a message as ICMPv6. */
export function emitNeighbour(message: NeighbourMessage): IcmpMessage {
  const bytes = concat(emitFixed(message), emitNeighbourOptions(message.options));
  return { type: neighbourType(message), code: 0, bytes };
}

/** One line. */
export function describeNeighbour(message: NeighbourMessage): string {
  return [headline(message), ...message.options.map(describeNeighbourOption)].join(", ");
}

/** ICMPv6 type of a message. */
export function neighbourType(message: NeighbourMessage): number {
  switch (message.kind) {
    case "router-solicitation":
      return ROUTER_SOLICITATION;
    case "router-advertisement":
      return ROUTER_ADVERTISEMENT;
    case "neighbour-solicitation":
      return NEIGHBOUR_SOLICITATION;
    case "neighbour-advertisement":
      return NEIGHBOUR_ADVERTISEMENT;
  }
}

function parseRouterAdvertisement(view: DataView, options: readonly NeighbourOption[]): RouterAdvertisement {
  const flags = view.getUint8(1);
  return {
    kind: "router-advertisement",
    hopLimit: view.getUint8(0),
    managed: (flags & 0x80) !== 0,
    other: (flags & 0x40) !== 0,
    preference: (flags >> 3) & 3,
    routerLifetimeSeconds: view.getUint16(2),
    reachableMs: view.getUint32(4),
    retransmitMs: view.getUint32(8),
    options,
  };
}

function parseNeighbourAdvertisement(view: DataView, options: readonly NeighbourOption[]): NeighbourAdvertisement {
  const flags = view.getUint8(0);
  return {
    kind: "neighbour-advertisement",
    target: getAddress6(view, TARGET_AT),
    router: (flags & 0x80) !== 0,
    solicited: (flags & 0x40) !== 0,
    override: (flags & 0x20) !== 0,
    options,
  };
}

function emitFixed(message: NeighbourMessage): Uint8Array {
  switch (message.kind) {
    case "router-solicitation":
      return new Uint8Array(4);
    case "router-advertisement":
      return emitRouterAdvertisement(message);
    case "neighbour-solicitation":
      return concat(new Uint8Array(4), addressBytes(message.target));
    case "neighbour-advertisement":
      return concat(bytesOf(advertisementFlags(message), 0, 0, 0), addressBytes(message.target));
  }
}

function emitRouterAdvertisement(message: RouterAdvertisement): Uint8Array {
  const bytes = new Uint8Array(12);
  const view = viewOf(bytes);
  put8(view, 0, message.hopLimit);
  put8(view, 1, (message.managed ? 0x80 : 0) | (message.other ? 0x40 : 0) | ((message.preference & 3) << 3));
  put16(view, 2, message.routerLifetimeSeconds);
  put32(view, 4, message.reachableMs);
  put32(view, 8, message.retransmitMs);
  return bytes;
}

function advertisementFlags(message: NeighbourAdvertisement): number {
  return (message.router ? 0x80 : 0) | (message.solicited ? 0x40 : 0) | (message.override ? 0x20 : 0);
}

function headline(message: NeighbourMessage): string {
  switch (message.kind) {
    case "router-solicitation":
      return "asks for routers";
    case "router-advertisement":
      return message.routerLifetimeSeconds === 0
        ? "router advertises, not as default router"
        : `router advertises for ${message.routerLifetimeSeconds} s`;
    case "neighbour-solicitation":
      return `asks where ${formatAddress(message.target)} is`;
    case "neighbour-advertisement":
      return `answers for ${formatAddress(message.target)}`;
  }
}
