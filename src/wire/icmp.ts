/**
 * ICMP for IPv4 (RFC 792): type, code, checksum, and the rest unread here; `parse-packet.ts` reads echoes and errors.
 * `parseIcmp` guarantees a right checksum.
 */
import { icmpName } from "../address/index.ts";
import { bytesOf, concat, put16, viewOf } from "./bytes.ts";
import { internetChecksum } from "./checksum.ts";
import { type Malformed, truncated } from "./malformed.ts";

/** Protocol number of ICMP. */
export const PROTOCOL_ICMP = 1;
/** Type: echo reply. */
export const ICMP_ECHO_REPLY = 0;
/** Type: destination unreachable. */
export const ICMP_UNREACHABLE = 3;
/** Type: redirect. */
export const ICMP_REDIRECT = 5;
/** Type: echo request. */
export const ICMP_ECHO_REQUEST = 8;
/** Type: time exceeded. */
export const ICMP_TIME_EXCEEDED = 11;
/** Type: parameter problem. */
export const ICMP_PARAMETER_PROBLEM = 12;

/** Code of unreachable: network. RFC 1812 section 5.2.7.1. */
export const ICMP_NET_UNREACHABLE = 0;
/** Code of unreachable: host. RFC 1812 section 5.2.7.1. */
export const ICMP_HOST_UNREACHABLE = 1;
/** Code of unreachable: port. RFC 792. */
export const ICMP_PORT_UNREACHABLE = 3;
/** Code of unreachable: fragmentation needed but DF set; carries the next-hop MTU (RFC 1191 section 4). */
export const ICMP_FRAGMENTATION_NEEDED = 4;
/** Code of unreachable: communication administratively prohibited. RFC 1812 section 5.2.7.1. */
export const ICMP_PROHIBITED = 13;

const SOURCE_QUENCH = 4;
const ERRORS: ReadonlySet<number> = new Set([
  ICMP_UNREACHABLE,
  SOURCE_QUENCH,
  ICMP_REDIRECT,
  ICMP_TIME_EXCEEDED,
  ICMP_PARAMETER_PROBLEM,
]);

/** An ICMP or ICMPv6 message with its content unread. */
export type IcmpMessage = {
  /** ICMP type. */
  readonly type: number;
  /** ICMP code. */
  readonly code: number;
  /** Everything behind the checksum. */
  readonly bytes: Uint8Array;
};

/** Bytes of type, code and checksum. */
export const ICMP_HEADER_LENGTH = 4;
const CHECKSUM_AT = 2;

/** Reads a message. */
export function parseIcmp(bytes: Uint8Array): IcmpMessage | Malformed {
  if (bytes.length < ICMP_HEADER_LENGTH) return truncated("ICMP", ICMP_HEADER_LENGTH, bytes.length);
  if (internetChecksum(bytes) !== 0) return { malformed: "checksum", protocol: "ICMP", problem: "checksum is wrong" };
  const view = viewOf(bytes);
  return { type: view.getUint8(0), code: view.getUint8(1), bytes: bytes.slice(ICMP_HEADER_LENGTH) };
}

/** Writes a message, checksum computed. */
export function emitIcmp(message: IcmpMessage): Uint8Array {
  const bytes = concat(bytesOf(message.type, message.code, 0, 0), message.bytes);
  put16(viewOf(bytes), CHECKSUM_AT, internetChecksum(bytes));
  return bytes;
}

/** One line about type and code. */
export function describeIcmp(message: Pick<IcmpMessage, "type" | "code">): string {
  return `ICMP ${icmpWords(PROTOCOL_ICMP, message)}`;
}

/** Type and code in words, for both families. */
export function icmpWords(protocol: 1 | 58, message: Pick<IcmpMessage, "type" | "code">): string {
  const { type, code } = message;
  const exact = icmpName(protocol, type, code);
  const name = exact ?? icmpName(protocol, type) ?? `type ${type}`;
  return `${name.replaceAll("-", " ")}${exact === undefined && code !== 0 ? `, code ${code}` : ""}`;
}

/** Whether messages of this type quote the packet they are about. RFC 1812 section 4.3.1, plus source quench. */
export function isIcmpError(type: number): boolean {
  return ERRORS.has(type);
}
