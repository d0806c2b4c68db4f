/**
 * DHCPv4 message (RFC 2131 section 2): 236 fixed bytes, magic cookie, options ending with 255. Options stay an
 * ordered list of code and bytes, so unknown ones survive; `dhcp-options.ts` reads the known ones.
 */
import { type Address, formatAddress, formatHardware, type Hardware } from "../address/index.ts";
import {
  bytesOf,
  concat,
  getAddress4,
  getHardware,
  put16,
  put32,
  refuseToEmit,
  setAddress,
  setHardware,
  viewOf,
  withoutTrailingZeros,
} from "./bytes.ts";
import { type Malformed, truncated } from "./malformed.ts";

/** Well-known UDP port of servers and relays. RFC 2131 section 4.1. */
export const DHCP_SERVER_PORT = 67;
/** Well-known UDP port of clients. RFC 2131 section 4.1. */
export const DHCP_CLIENT_PORT = 68;
/** Bit of `flags`: answers have to be broadcast. RFC 2131 figure 2. */
export const DHCP_BROADCAST = 0x8000;
/** `operation` of what clients send. */
export const BOOT_REQUEST = 1;
/** `operation` of what servers send. */
export const BOOT_REPLY = 2;

/** One option as it stands in the message. */
export type DhcpOption = {
  /** Option code, 1 to 254 (RFC 2132). */
  readonly code: number;
  /** Its content, without code and length. What is longer than 255 bytes goes out in pieces (RFC 3396, from memory). */
  readonly bytes: Uint8Array;
};

/** A DHCPv4 message; the hardware type is always Ethernet. */
export type DhcpMessage = {
  /** 1 from client, 2 from server (`op`). */
  readonly operation: number;
  /** Relays passed (`hops`). */
  readonly hops: number;
  /** Random number that ties answers to questions (`xid`), 32 bits. */
  readonly transaction: number;
  /** Seconds since the client began (`secs`). */
  readonly seconds: number;
  /** `DHCP_BROADCAST` or 0. */
  readonly flags: number;
  /** Address the client has and answers on (`ciaddr`), else 0.0.0.0. */
  readonly clientAddress: Address;
  /** Address given to the client (`yiaddr`). */
  readonly yourAddress: Address;
  /** Server of the next boot step (`siaddr`). */
  readonly nextServer: Address;
  /** Relay that forwarded the message (`giaddr`), else 0.0.0.0. */
  readonly relayAddress: Address;
  /** Hardware address of the client (`chaddr`). */
  readonly clientHardware: Hardware;
  /** `sname` without trailing zeros, at most 64 bytes. Default: empty. */
  readonly serverName?: Uint8Array;
  /** `file` without trailing zeros, at most 128 bytes. Default: empty. */
  readonly bootFile?: Uint8Array;
  /** Options in order of appearance; pads and the end mark are left out. */
  readonly options: readonly DhcpOption[];
};

const ETHERNET = 1;
const HARDWARE_LENGTH = 6;
const TRANSACTION_AT = 4;
const SECONDS_AT = 8;
const FLAGS_AT = 10;
const CLIENT_ADDRESS_AT = 12;
const YOUR_ADDRESS_AT = 16;
const NEXT_SERVER_AT = 20;
const RELAY_ADDRESS_AT = 24;
const CLIENT_HARDWARE_AT = 28;
const SERVER_NAME_AT = 44;
const BOOT_FILE_AT = 108;
const COOKIE_AT = 236;
const OPTIONS_AT = 240;
const COOKIE = 0x6382_5363; // 99.130.83.99, RFC 2131 section 3
const OPTION_PAD = 0;
const OPTION_END = 255;
const LONGEST_OPTION = 255;
const SHORTEST_MESSAGE = 300; // RFC 1542 section 2.1, from memory; relays may drop shorter ones

/** Reads a message. `unsupported` when the client is not on Ethernet. */
export function parseDhcp(bytes: Uint8Array): DhcpMessage | Malformed {
  if (bytes.length < OPTIONS_AT) return truncated("DHCP", OPTIONS_AT, bytes.length);
  const view = viewOf(bytes);
  if (view.getUint8(1) !== ETHERNET || view.getUint8(2) !== HARDWARE_LENGTH)
    return { malformed: "unsupported", protocol: "DHCP", problem: "the client's hardware is not Ethernet" };
  if (view.getUint32(COOKIE_AT) !== COOKIE)
    return { malformed: "value", protocol: "DHCP", problem: "the magic cookie is missing" };
  const { options, ended } = parseDhcpOptions(bytes.subarray(OPTIONS_AT));
  if (!ended) return { malformed: "truncated", protocol: "DHCP", problem: "the options do not end with 255" };
  return { ...parseFixed(view), ...parseTexts(bytes), options };
}

/** Writes a message, padded with zeros to 300 bytes. */
export function emitDhcp(message: DhcpMessage): Uint8Array {
  const bytes = new Uint8Array(dhcpLength(message));
  const view = viewOf(bytes);
  bytes.set(bytesOf(message.operation, ETHERNET, HARDWARE_LENGTH, message.hops));
  put32(view, TRANSACTION_AT, message.transaction);
  put16(view, SECONDS_AT, message.seconds);
  put16(view, FLAGS_AT, message.flags);
  setAddress(view, CLIENT_ADDRESS_AT, message.clientAddress);
  setAddress(view, YOUR_ADDRESS_AT, message.yourAddress);
  setAddress(view, NEXT_SERVER_AT, message.nextServer);
  setAddress(view, RELAY_ADDRESS_AT, message.relayAddress);
  setHardware(view, CLIENT_HARDWARE_AT, message.clientHardware);
  bytes.set(fitting(message.serverName, BOOT_FILE_AT - SERVER_NAME_AT), SERVER_NAME_AT);
  bytes.set(fitting(message.bootFile, COOKIE_AT - BOOT_FILE_AT), BOOT_FILE_AT);
  put32(view, COOKIE_AT, COOKIE);
  bytes.set(concat(...message.options.map(emitDhcpOption), bytesOf(OPTION_END)), OPTIONS_AT);
  return bytes;
}

/** Bytes that `emitDhcp` writes. */
export function dhcpLength(message: DhcpMessage): number {
  const options = message.options.reduce((length, option) => length + optionLength(option), 0);
  return Math.max(SHORTEST_MESSAGE, OPTIONS_AT + options + 1);
}

/** One line: what it is, for whom, about which address. */
export function describeDhcp(message: DhcpMessage): string {
  const type = message.options.find((option) => option.code === 53)?.bytes[0] ?? 0;
  const name = MESSAGE_NAMES[type] ?? `message ${type}`;
  const about = message.yourAddress.value === 0n ? "" : `, ${formatAddress(message.yourAddress)}`;
  const relay = message.relayAddress.value === 0n ? "" : `, by relay ${formatAddress(message.relayAddress)}`;
  return `DHCP ${name} for ${formatHardware(message.clientHardware)}${about}${relay}`;
}

const MESSAGE_NAMES = [
  "message without type",
  "discover",
  "offer",
  "request",
  "decline",
  "acknowledgement",
  "refusal",
  "release",
  "inform",
];

/** Reads options up to the end mark; `ended` is false when it is missing or an option does not fit. */
export function parseDhcpOptions(bytes: Uint8Array): {
  readonly options: readonly DhcpOption[];
  readonly ended: boolean;
} {
  const options: DhcpOption[] = [];
  let at = 0;
  while (at < bytes.length) {
    const code = bytes[at] ?? OPTION_END;
    if (code === OPTION_END) return { options, ended: true };
    const end = code === OPTION_PAD ? at + 1 : at + 2 + (bytes[at + 1] ?? LONGEST_OPTION);
    if (end > bytes.length) break;
    if (code !== OPTION_PAD) options.push({ code, bytes: bytes.slice(at + 2, end) });
    at = end;
  }
  return { options, ended: false };
}

function parseFixed(view: DataView): Omit<DhcpMessage, "options"> {
  return {
    operation: view.getUint8(0),
    hops: view.getUint8(3),
    transaction: view.getUint32(TRANSACTION_AT),
    seconds: view.getUint16(SECONDS_AT),
    flags: view.getUint16(FLAGS_AT),
    clientAddress: getAddress4(view, CLIENT_ADDRESS_AT),
    yourAddress: getAddress4(view, YOUR_ADDRESS_AT),
    nextServer: getAddress4(view, NEXT_SERVER_AT),
    relayAddress: getAddress4(view, RELAY_ADDRESS_AT),
    clientHardware: getHardware(view, CLIENT_HARDWARE_AT),
  };
}

function parseTexts(bytes: Uint8Array): Pick<DhcpMessage, "serverName" | "bootFile"> {
  const serverName = withoutTrailingZeros(bytes.subarray(SERVER_NAME_AT, BOOT_FILE_AT));
  const bootFile = withoutTrailingZeros(bytes.subarray(BOOT_FILE_AT, COOKIE_AT));
  return { ...(serverName.length > 0 ? { serverName } : {}), ...(bootFile.length > 0 ? { bootFile } : {}) };
}

function fitting(text: Uint8Array | undefined, room: number): Uint8Array {
  if (text === undefined) return new Uint8Array(0);
  return text.length > room ? refuseToEmit("DHCP", "text of so many bytes", text.length) : text;
}

function emitDhcpOption({ code, bytes }: DhcpOption): Uint8Array {
  if (code <= OPTION_PAD || code >= OPTION_END) refuseToEmit("DHCP", "option code", code);
  if (bytes.length <= LONGEST_OPTION) return concat(bytesOf(code, bytes.length), bytes);
  const rest = { code, bytes: bytes.subarray(LONGEST_OPTION) };
  return concat(bytesOf(code, LONGEST_OPTION), bytes.subarray(0, LONGEST_OPTION), emitDhcpOption(rest));
}

function optionLength({ bytes }: DhcpOption): number {
  return bytes.length + 2 * Math.max(1, Math.ceil(bytes.length / LONGEST_OPTION));
}
