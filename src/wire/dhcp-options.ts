/**
 * The DHCP options that dryrack knows: their codes (RFC 2132; 82 RFC 3046; 121 RFC 3442) and their content, read and
 * written. A reader answers undefined when the option is absent or not of the form its code asks for; several pieces
 * of one code are joined first (RFC 3396, from memory), and options in the `file` and `sname` fields count (option 52).
 */
import { type Address, type Prefix, prefixOf } from "../address/index.ts";
import { addressBytes, bytesOf, concat, getAddress4, put32, viewOf, wordsOf } from "./bytes.ts";
import { type DhcpMessage, type DhcpOption, parseDhcpOptions } from "./dhcp.ts";

/** Subnet mask. RFC 2132 section 3.3. */
export const DHCP_SUBNET_MASK = 1;
/** Routers, best first. RFC 2132 section 3.5. */
export const DHCP_ROUTERS = 3;
/** Resolvers, best first. RFC 2132 section 3.8. */
export const DHCP_RESOLVERS = 6;
/** Host name. RFC 2132 section 3.14. */
export const DHCP_HOST_NAME = 12;
/** Domain name. RFC 2132 section 3.17. */
export const DHCP_DOMAIN_NAME = 15;
/** Static host routes; ignored where option 121 is present. RFC 2132 section 5.8. */
export const DHCP_STATIC_ROUTES = 33;
/** Address that the client asks for. RFC 2132 section 9.1. */
export const DHCP_REQUESTED_ADDRESS = 50;
/** Lease time in seconds. RFC 2132 section 9.2. */
export const DHCP_LEASE_SECONDS = 51;
/** Which of `sname` and `file` hold options. RFC 2132 section 9.3. */
export const DHCP_OVERLOAD = 52;
/** Message type. RFC 2132 section 9.6. */
export const DHCP_MESSAGE_TYPE = 53;
/** Which server speaks, or is meant. RFC 2132 section 9.7. */
export const DHCP_SERVER_IDENTIFIER = 54;
/** Codes that the client wants to hear. RFC 2132 section 9.8. */
export const DHCP_PARAMETER_LIST = 55;
/** A server's reason for refusing, as text. RFC 2132 section 9.9. */
export const DHCP_ERROR_TEXT = 56;
/** Longest message that the client takes, in bytes. RFC 2132 section 9.10. */
export const DHCP_LONGEST_MESSAGE = 57;
/** T1, seconds until renewing. RFC 2132 section 9.11. */
export const DHCP_RENEWAL_SECONDS = 58;
/** T2, seconds until rebinding. RFC 2132 section 9.12. */
export const DHCP_REBINDING_SECONDS = 59;
/** Client identifier. RFC 2132 section 9.14. */
export const DHCP_CLIENT_IDENTIFIER = 61;
/** What a relay adds about where the client sits. RFC 3046 section 2. */
export const DHCP_RELAY_INFORMATION = 82;
/** Routes of any length; where present, options 3 and 33 are ignored. RFC 3442. */
export const DHCP_CLASSLESS_ROUTES = 121;

/** Content of option 53. RFC 2132 section 9.6. */
export const DHCP_DISCOVER = 1;
/** A server offers an address. */
export const DHCP_OFFER = 2;
/** A client asks for an address offered or held. */
export const DHCP_REQUEST = 3;
/** A client found the address taken. */
export const DHCP_DECLINE = 4;
/** A server grants. */
export const DHCP_ACKNOWLEDGE = 5;
/** A server refuses. */
export const DHCP_REFUSE = 6;
/** A client gives its address back. */
export const DHCP_RELEASE = 7;
/** A client with an address asks for settings only. */
export const DHCP_INFORM = 8;

/** A route as options 33 and 121 state it. */
export type LeaseRoute = {
  /** Where to. */
  readonly prefix: Prefix;
  /** By which router; 0.0.0.0 in option 121: on the client's own link. */
  readonly router: Address;
};

/** One sub-option of option 82. */
export type RelaySubOption = {
  /** 1 circuit, 2 remote identifier; others survive. RFC 3046 section 2. */
  readonly code: number;
  /** Its content. */
  readonly bytes: Uint8Array;
};

/** The joined content of an option; undefined when it is absent. */
export function dhcpOption(message: DhcpMessage, code: number): Uint8Array | undefined {
  const found = allOptions(message).filter((option) => option.code === code);
  return found.length === 0 ? undefined : concat(...found.map((option) => option.bytes));
}

/** Option 53; 0 when absent, as in plain BOOTP. */
export function dhcpMessageType(message: DhcpMessage): number {
  return dhcpNumber(message, DHCP_MESSAGE_TYPE, 1) ?? 0;
}

/** One address: options 1, 50, 54. */
export function dhcpAddress(message: DhcpMessage, code: number): Address | undefined {
  const addresses = dhcpAddresses(message, code);
  return addresses?.length === 1 ? addresses[0] : undefined;
}

/** At least one address: options 3, 6. */
export function dhcpAddresses(message: DhcpMessage, code: number): readonly Address[] | undefined {
  const bytes = dhcpOption(message, code);
  if (bytes === undefined || bytes.length === 0 || bytes.length % 4 !== 0) return undefined;
  const view = viewOf(bytes);
  return Array.from({ length: bytes.length / 4 }, (_, index) => getAddress4(view, index * 4));
}

/** Seconds in 32 bits: options 51, 58, 59; 0xffffffff is for ever. */
export function dhcpSeconds(message: DhcpMessage, code: number): number | undefined {
  return dhcpNumber(message, code, 4);
}

/** Option 57, in bytes. */
export function dhcpLongestMessage(message: DhcpMessage): number | undefined {
  return dhcpNumber(message, DHCP_LONGEST_MESSAGE, 2);
}

/** Text, byte for byte: options 12, 15, 56. A zero at its end is dropped. */
export function dhcpText(message: DhcpMessage, code: number): string | undefined {
  const bytes = dhcpOption(message, code);
  return bytes === undefined ? undefined : String.fromCharCode(...bytes).replace(/\0+$/, "");
}

/** Option 55: the codes, in the client's order. */
export function dhcpParameterList(message: DhcpMessage): readonly number[] | undefined {
  const bytes = dhcpOption(message, DHCP_PARAMETER_LIST);
  return bytes === undefined ? undefined : [...bytes];
}

/** Option 33: pairs of host and router. */
export function dhcpStaticRoutes(message: DhcpMessage): readonly LeaseRoute[] | undefined {
  const addresses = dhcpAddresses(message, DHCP_STATIC_ROUTES);
  if (addresses === undefined || addresses.length % 2 !== 0) return undefined;
  const routes: LeaseRoute[] = [];
  for (const [index, router] of addresses.entries()) {
    const destination = addresses[index - 1];
    if (index % 2 === 1 && destination !== undefined) routes.push({ prefix: prefixOf(destination, 32), router });
  }
  return routes;
}

/** Option 121: routes in order. Host bits of a destination count as zero (RFC 3442). */
export function dhcpClasslessRoutes(message: DhcpMessage): readonly LeaseRoute[] | undefined {
  const bytes = dhcpOption(message, DHCP_CLASSLESS_ROUTES);
  return bytes === undefined ? undefined : parseClasslessRoutes(bytes);
}

/** Option 82: sub-options in order. */
export function dhcpRelayInformation(message: DhcpMessage): readonly RelaySubOption[] | undefined {
  const bytes = dhcpOption(message, DHCP_RELAY_INFORMATION);
  if (bytes === undefined) return undefined;
  const parts: RelaySubOption[] = [];
  let at = 0;
  while (at < bytes.length) {
    const end = at + 2 + (bytes[at + 1] ?? 0);
    if (at + 1 >= bytes.length || end > bytes.length) return undefined;
    parts.push({ code: bytes[at] ?? 0, bytes: bytes.slice(at + 2, end) });
    at = end;
  }
  return parts;
}

/** An option of addresses: 1, 3, 6, 50, 54. */
export function addressOption(code: number, ...addresses: readonly Address[]): DhcpOption {
  return { code, bytes: addressBytes(...addresses) };
}

/** An option of 32 bits: 51, 58, 59. */
export function secondsOption(code: number, seconds: number): DhcpOption {
  const bytes = new Uint8Array(4);
  put32(viewOf(bytes), 0, seconds);
  return { code, bytes };
}

/** An option of text; characters above 255 are not representable and become `?`. */
export function textOption(code: number, text: string): DhcpOption {
  return { code, bytes: Uint8Array.from(text, latin1) };
}

/** Option 53. */
export function messageTypeOption(type: number): DhcpOption {
  return { code: DHCP_MESSAGE_TYPE, bytes: bytesOf(type) };
}

/** Option 57. */
export function longestMessageOption(bytes: number): DhcpOption {
  return { code: DHCP_LONGEST_MESSAGE, bytes: wordsOf(bytes) };
}

/** Option 55. */
export function parameterListOption(codes: readonly number[]): DhcpOption {
  return { code: DHCP_PARAMETER_LIST, bytes: Uint8Array.from(codes) };
}

/** Option 33, for host routes. */
export function staticRoutesOption(routes: readonly LeaseRoute[]): DhcpOption {
  return { code: DHCP_STATIC_ROUTES, bytes: addressBytes(...routes.flatMap(({ prefix, router }) => [prefix, router])) };
}

/** Option 121: width, the significant octets of the destination, the router; for each route. RFC 3442. */
export function classlessRoutesOption(routes: readonly LeaseRoute[]): DhcpOption {
  return { code: DHCP_CLASSLESS_ROUTES, bytes: concat(...routes.map(emitClasslessRoute)) };
}

/** Option 82. */
export function relayInformationOption(parts: readonly RelaySubOption[]): DhcpOption {
  const bytes = concat(...parts.map((part) => concat(bytesOf(part.code, part.bytes.length), part.bytes)));
  return { code: DHCP_RELAY_INFORMATION, bytes };
}

function latin1(character: string): number {
  const code = character.charCodeAt(0);
  return code > 0xff ? "?".charCodeAt(0) : code;
}

function dhcpNumber(message: DhcpMessage, code: number, length: 1 | 2 | 4): number | undefined {
  const bytes = dhcpOption(message, code);
  if (bytes?.length !== length) return undefined;
  return bytes.reduce((number, byte) => number * 256 + byte, 0);
}

// RFC 2131 section 4.1: the options field first, then `file`, then `sname`.
function allOptions(message: DhcpMessage): readonly DhcpOption[] {
  const overload = message.options.find((option) => option.code === DHCP_OVERLOAD)?.bytes[0] ?? 0;
  const file = (overload & 1) === 1 ? parseDhcpOptions(message.bootFile ?? new Uint8Array(0)).options : [];
  const name = (overload & 2) === 2 ? parseDhcpOptions(message.serverName ?? new Uint8Array(0)).options : [];
  return [...message.options, ...file, ...name];
}

function parseClasslessRoutes(bytes: Uint8Array): readonly LeaseRoute[] | undefined {
  const routes: LeaseRoute[] = [];
  let at = 0;
  while (at < bytes.length) {
    const width = bytes[at] ?? 0;
    const routerAt = at + 1 + Math.ceil(width / 8);
    if (width > 32 || routerAt + 4 > bytes.length) return undefined;
    const octets = new Uint8Array(4);
    octets.set(bytes.subarray(at + 1, routerAt));
    const prefix = prefixOf(getAddress4(viewOf(octets), 0), width);
    routes.push({ prefix, router: getAddress4(viewOf(bytes), routerAt) });
    at = routerAt + 4;
  }
  return routes.length === 0 ? undefined : routes;
}

function emitClasslessRoute({ prefix, router }: LeaseRoute): Uint8Array {
  const octets = addressBytes(prefix).subarray(0, Math.ceil(prefix.length / 8));
  return concat(bytesOf(prefix.length), octets, addressBytes(router));
}
