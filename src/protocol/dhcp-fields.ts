/**
 * DHCPv4 messages as the machines use them: the kind as a word, and the known options of a message to write as typed
 * fields. Reading and writing of each option is `wire/`'s.
 */
import { type Address, prefixOf } from "../address/index.ts";
import {
  addressOption,
  classlessRoutesOption,
  DHCP_CLIENT_IDENTIFIER,
  DHCP_DOMAIN_NAME,
  DHCP_ERROR_TEXT,
  DHCP_HOST_NAME,
  DHCP_LEASE_SECONDS,
  DHCP_REBINDING_SECONDS,
  DHCP_RELAY_INFORMATION,
  DHCP_RENEWAL_SECONDS,
  DHCP_REQUESTED_ADDRESS,
  DHCP_RESOLVERS,
  DHCP_ROUTERS,
  DHCP_SERVER_IDENTIFIER,
  DHCP_SUBNET_MASK,
  type DhcpMessage,
  type DhcpOption,
  dhcpAddress,
  dhcpMessageType,
  messageTypeOption,
  parameterListOption,
  secondsOption,
  textOption,
} from "../wire/index.ts";

/** What a message is for: option 53 (RFC 2132 section 9.6), in the order of its numbers from 1. */
export type DhcpKind = "discover" | "offer" | "request" | "decline" | "acknowledge" | "refuse" | "release" | "inform";

const KINDS: readonly DhcpKind[] = [
  "discover",
  "offer",
  "request",
  "decline",
  "acknowledge",
  "refuse",
  "release",
  "inform",
];

/** A lease time that never ends (RFC 2131 section 3.3). */
export const FOREVER_SECONDS = 0xffffffff;

/** 0.0.0.0: what an address field holds that is not filled in. */
export const NO_ADDRESS: Address = { family: 4, value: 0n };

/** A route of a lease, in numbers. */
export type LeaseHop = {
  /** Network address as an IPv4 number, host bits zero. */
  readonly prefix: bigint;
  /** 0 to 32. */
  readonly length: number;
  /** Router as an IPv4 number; absent: the destination is on this link (router 0.0.0.0, RFC 3442). */
  readonly via?: bigint;
};

/** The kind of a message; undefined without a known option 53, as in plain BOOTP. */
export function dhcpKind(message: DhcpMessage): DhcpKind | undefined {
  return KINDS[dhcpMessageType(message) - 1];
}

/** Length of the subnet mask in option 1; undefined where it is absent or no mask. */
export function maskLength(message: DhcpMessage): number | undefined {
  const mask = dhcpAddress(message, DHCP_SUBNET_MASK);
  if (!mask) return undefined;
  const zero = mask.value.toString(2).padStart(32, "0").indexOf("0");
  const length = zero < 0 ? 32 : zero;
  return maskOf(length).value === mask.value ? length : undefined;
}

function maskOf(length: number): Address {
  return { family: 4, value: prefixOf({ family: 4, value: 0xffffffffn }, length).value };
}

/** Options to write, in this order; absent ones are left out. */
export type DhcpFields = {
  /** Option 53. */
  readonly kind: DhcpKind;
  /** Option 1, as a prefix length. */
  readonly maskLength?: number | undefined;
  /** Option 3, IPv4 numbers; empty: left out. */
  readonly routers?: readonly bigint[] | undefined;
  /** Option 6, IPv4 numbers; empty: left out. */
  readonly resolvers?: readonly bigint[] | undefined;
  /** Option 12. */
  readonly hostName?: string | undefined;
  /** Option 15. */
  readonly domain?: string | undefined;
  /** Option 50. */
  readonly requested?: Address | undefined;
  /** Option 51. */
  readonly leaseSeconds?: number | undefined;
  /** Option 54. */
  readonly server?: Address | undefined;
  /** Option 55: option codes asked for. */
  readonly parameters?: readonly number[] | undefined;
  /** Option 56: text for people. */
  readonly message?: string | undefined;
  /** Option 58. */
  readonly renewSeconds?: number | undefined;
  /** Option 59. */
  readonly rebindSeconds?: number | undefined;
  /** Option 61. */
  readonly clientIdentifier?: Uint8Array | undefined;
  /** Option 121; empty: left out. */
  readonly routes?: readonly LeaseHop[] | undefined;
  /** Option 82, always last (RFC 3046 section 2.1). */
  readonly agentInformation?: Uint8Array | undefined;
};

/** The options of a message. */
export function dhcpOptions(fields: DhcpFields): DhcpOption[] {
  return [
    messageTypeOption(KINDS.indexOf(fields.kind) + 1),
    ...given(fields.maskLength, (length) => addressOption(DHCP_SUBNET_MASK, maskOf(length))),
    ...given(filled(fields.routers), (routers) => addressOption(DHCP_ROUTERS, ...routers.map(address4))),
    ...given(filled(fields.resolvers), (resolvers) => addressOption(DHCP_RESOLVERS, ...resolvers.map(address4))),
    ...given(fields.hostName, (name) => textOption(DHCP_HOST_NAME, name)),
    ...given(fields.domain, (name) => textOption(DHCP_DOMAIN_NAME, name)),
    ...given(fields.requested, (address) => addressOption(DHCP_REQUESTED_ADDRESS, address)),
    ...given(fields.leaseSeconds, (seconds) => secondsOption(DHCP_LEASE_SECONDS, seconds)),
    ...given(fields.server, (address) => addressOption(DHCP_SERVER_IDENTIFIER, address)),
    ...given(fields.parameters, parameterListOption),
    ...given(fields.message, (text) => textOption(DHCP_ERROR_TEXT, text)),
    ...given(fields.renewSeconds, (seconds) => secondsOption(DHCP_RENEWAL_SECONDS, seconds)),
    ...given(fields.rebindSeconds, (seconds) => secondsOption(DHCP_REBINDING_SECONDS, seconds)),
    ...given(fields.clientIdentifier, (bytes) => ({ code: DHCP_CLIENT_IDENTIFIER, bytes })),
    ...given(filled(fields.routes), routesOption),
    ...given(fields.agentInformation, (bytes) => ({ code: DHCP_RELAY_INFORMATION, bytes })),
  ];
}

function given<Value>(value: Value | undefined, write: (value: Value) => DhcpOption): DhcpOption[] {
  return value === undefined ? [] : [write(value)];
}

function filled<Value>(list: readonly Value[] | undefined): readonly Value[] | undefined {
  return list?.length ? list : undefined;
}

function address4(value: bigint): Address {
  return { family: 4, value };
}

function routesOption(routes: readonly LeaseHop[]): DhcpOption {
  return classlessRoutesOption(
    routes.map(({ prefix, length, via }) => ({
      prefix: { family: 4, value: prefix, length },
      router: address4(via ?? 0n),
    })),
  );
}
