/**
 * DHCPv4 messages as the machines use them: the kind, the known options as typed fields, and a maker for messages.
 * Option codes and kinds are those of RFC 2132 sections 3 to 9, RFC 3046 section 2 and RFC 3442. Options that appear
 * several times are joined before they are read (RFC 2131 section 4.1, RFC 3396).
 */
import { type Address, prefixOf } from "../address/index.ts";
import type { DhcpMessage, DhcpOption } from "../wire/index.ts";

/** What a message is for: option 53 (RFC 2132 section 9.6). */
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

/** Option codes that the machines read or write. RFC 2132; 82 from RFC 3046, 121 from RFC 3442. */
export const DHCP_OPTIONS = {
  subnetMask: 1,
  routers: 3,
  resolvers: 6,
  hostName: 12,
  domain: 15,
  staticRoutes: 33,
  requestedAddress: 50,
  leaseSeconds: 51,
  kind: 53,
  serverIdentifier: 54,
  parameters: 55,
  message: 56,
  maximumSize: 57,
  renewSeconds: 58,
  rebindSeconds: 59,
  clientIdentifier: 61,
  agentInformation: 82,
  classlessRoutes: 121,
} as const;

/** A lease time that never ends (RFC 2131 section 3.3). */
export const FOREVER_SECONDS = 0xffffffff;

/** 0.0.0.0 */
export const NO_ADDRESS: Address = { family: 4, value: 0n };

/** A route as option 121 carries it; `via` absent: the destination is on this link. */
export type LeaseRoute = {
  /** Network address as an IPv4 number, host bits zero. */
  readonly prefix: bigint;
  /** 0 to 32. */
  readonly length: number;
  /** Router as an IPv4 number. */
  readonly via?: bigint;
};

/** The content of an option, all its appearances joined; undefined when it is absent. */
export function optionBytes(message: DhcpMessage, code: number): Uint8Array | undefined {
  const found = message.options.filter((option) => option.code === code);
  if (found.length < 2) return found[0]?.bytes;
  const joined = new Uint8Array(found.reduce((sum, { bytes }) => sum + bytes.length, 0));
  let at = 0;
  for (const { bytes } of found) {
    joined.set(bytes, at);
    at += bytes.length;
  }
  return joined;
}

/** The kind of a message; undefined without a known option 53, such as plain BOOTP. */
export function dhcpKind(message: DhcpMessage): DhcpKind | undefined {
  return KINDS[(optionBytes(message, DHCP_OPTIONS.kind)?.[0] ?? 0) - 1];
}

/** An unsigned number in the network's byte order, from as many bytes as there are. */
function numberOf(bytes: Uint8Array): bigint {
  return bytes.reduce((value, byte) => (value << 8n) | BigInt(byte), 0n);
}

/** An option that holds one IPv4 address. */
export function addressOption(message: DhcpMessage, code: number): Address | undefined {
  const bytes = optionBytes(message, code);
  return bytes?.length === 4 ? { family: 4, value: numberOf(bytes) } : undefined;
}

/** An option that holds a list of IPv4 addresses, as numbers; empty when it is absent. */
export function addressesOption(message: DhcpMessage, code: number): bigint[] {
  const bytes = optionBytes(message, code) ?? new Uint8Array();
  const addresses: bigint[] = [];
  for (let at = 0; at + 4 <= bytes.length; at += 4) addresses.push(numberOf(bytes.subarray(at, at + 4)));
  return addresses;
}

/** An option that holds 32 bits of seconds. */
export function secondsOption(message: DhcpMessage, code: number): number | undefined {
  const bytes = optionBytes(message, code);
  return bytes?.length === 4 ? Number(numberOf(bytes)) : undefined;
}

/** An option that holds text, byte by byte. */
export function textOption(message: DhcpMessage, code: number): string | undefined {
  const bytes = optionBytes(message, code);
  return bytes && String.fromCharCode(...bytes);
}

/** Length of the subnet mask in option 1; undefined where it is absent or no mask. */
export function maskLength(message: DhcpMessage): number | undefined {
  const mask = addressOption(message, DHCP_OPTIONS.subnetMask);
  if (!mask) return undefined;
  const length = mask.value.toString(2).padStart(32, "0").indexOf("0");
  const whole = length < 0 ? 32 : length;
  return prefixOf({ family: 4, value: 0xffffffffn }, whole).value === mask.value ? whole : undefined;
}

/**
 * Routes of option 121 (RFC 3442): each a width, the significant octets of the subnet number and a router. Bits
 * behind the width are cleared; router 0.0.0.0 means on link. Undefined when the option is absent or malformed.
 */
export function classlessRoutes(message: DhcpMessage): LeaseRoute[] | undefined {
  const bytes = optionBytes(message, DHCP_OPTIONS.classlessRoutes);
  if (!bytes) return undefined;
  const routes: LeaseRoute[] = [];
  for (let at = 0; at < bytes.length; ) {
    const length = bytes[at] ?? 0;
    const octets = Math.ceil(length / 8);
    const end = at + 1 + octets + 4;
    if (length > 32 || end > bytes.length) return undefined;
    routes.push(leaseRoute(bytes.subarray(at + 1, end - 4), length, bytes.subarray(end - 4, end)));
    at = end;
  }
  return routes;
}

function leaseRoute(octets: Uint8Array, length: number, router: Uint8Array): LeaseRoute {
  const subnet = numberOf(octets) << BigInt(32 - 8 * octets.length);
  const prefix = prefixOf({ family: 4, value: subnet }, length).value;
  const via = numberOf(router);
  return via === 0n ? { prefix, length } : { prefix, length, via };
}

/** Bytes of option 121 for a list of routes (RFC 3442). */
export function classlessRouteBytes(routes: readonly LeaseRoute[]): Uint8Array {
  return Uint8Array.from(
    routes.flatMap(({ prefix, length, via }) => [
      length,
      ...bytesOf(prefix, 4).slice(0, Math.ceil(length / 8)),
      ...bytesOf(via ?? 0n, 4),
    ]),
  );
}

/** A number in the network's byte order. */
function bytesOf(value: bigint, length: number): number[] {
  return Array.from({ length }, (_, at) => Number((value >> BigInt(8 * (length - 1 - at))) & 255n));
}

/** Options to write; absent ones are left out, in ascending order of code but for the kind, which comes first. */
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
  /** Options 58 and 59. */
  readonly renewSeconds?: number | undefined;
  /** Option 59. */
  readonly rebindSeconds?: number | undefined;
  /** Option 61. */
  readonly clientIdentifier?: Uint8Array | undefined;
  /** Option 82, always last (RFC 3046 section 2.1). */
  readonly agentInformation?: Uint8Array | undefined;
  /** Option 121; empty: left out. */
  readonly routes?: readonly LeaseRoute[] | undefined;
};

const LONGEST_OPTION = 255; // longer contents are split over several options of one code (RFC 3396)

/** The options of a message, in the order they are written. */
export function dhcpOptions(fields: DhcpFields): DhcpOption[] {
  const of = DHCP_OPTIONS;
  const entries: readonly (readonly [code: number, bytes: readonly number[] | Uint8Array | undefined])[] = [
    [of.kind, [KINDS.indexOf(fields.kind) + 1]],
    [of.subnetMask, fields.maskLength === undefined ? undefined : bytesOf(maskOf(fields.maskLength), 4)],
    [of.routers, addressBytes(fields.routers)],
    [of.resolvers, addressBytes(fields.resolvers)],
    [of.hostName, textBytes(fields.hostName)],
    [of.domain, textBytes(fields.domain)],
    [of.requestedAddress, fields.requested && bytesOf(fields.requested.value, 4)],
    [of.leaseSeconds, secondsBytes(fields.leaseSeconds)],
    [of.serverIdentifier, fields.server && bytesOf(fields.server.value, 4)],
    [of.parameters, fields.parameters],
    [of.message, textBytes(fields.message)],
    [of.renewSeconds, secondsBytes(fields.renewSeconds)],
    [of.rebindSeconds, secondsBytes(fields.rebindSeconds)],
    [of.clientIdentifier, fields.clientIdentifier],
    [of.classlessRoutes, fields.routes?.length ? classlessRouteBytes(fields.routes) : undefined],
    [of.agentInformation, fields.agentInformation],
  ];
  return entries.flatMap(([code, bytes]) => (bytes === undefined ? [] : splitOption(code, Uint8Array.from(bytes))));
}

function splitOption(code: number, bytes: Uint8Array): DhcpOption[] {
  const pieces = Math.max(1, Math.ceil(bytes.length / LONGEST_OPTION));
  return Array.from({ length: pieces }, (_, piece) => ({
    code,
    bytes: bytes.slice(piece * LONGEST_OPTION, (piece + 1) * LONGEST_OPTION),
  }));
}

function maskOf(length: number): bigint {
  return prefixOf({ family: 4, value: 0xffffffffn }, length).value;
}

function addressBytes(addresses: readonly bigint[] | undefined): number[] | undefined {
  return addresses?.length ? addresses.flatMap((address) => bytesOf(address, 4)) : undefined;
}

function textBytes(text: string | undefined): number[] | undefined {
  return text === undefined ? undefined : Array.from(text, (letter) => (letter.codePointAt(0) ?? 0) & 255);
}

function secondsBytes(seconds: number | undefined): number[] | undefined {
  return seconds === undefined ? undefined : bytesOf(BigInt(seconds), 4);
}
