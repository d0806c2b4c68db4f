/**
 * ICMPv6 (RFC 4443, from memory): laid out like ICMP, with a pseudo header under its checksum and errors below type
 * 128. `parseIcmpv6` guarantees a right checksum.
 */
import { bytesOf, concat, put16, viewOf } from "./bytes.ts";
import { type Ends, transportChecksum } from "./checksum.ts";
import { ICMP_HEADER_LENGTH, type IcmpMessage, icmpWords } from "./icmp.ts";
import { type Malformed, truncated } from "./malformed.ts";

/** Next header number of ICMPv6. RFC 4443 section 1. */
export const PROTOCOL_ICMPV6 = 58;
/** Type: destination unreachable. */
export const ICMPV6_UNREACHABLE = 1;
/** Type: packet too big; carries the next-hop MTU. */
export const ICMPV6_TOO_BIG = 2;
/** Type: time exceeded. */
export const ICMPV6_TIME_EXCEEDED = 3;
/** Type: parameter problem. */
export const ICMPV6_PARAMETER_PROBLEM = 4;
/** Type: echo request. */
export const ICMPV6_ECHO_REQUEST = 128;
/** Type: echo reply. */
export const ICMPV6_ECHO_REPLY = 129;

/** Code of unreachable: no route. */
export const ICMPV6_NO_ROUTE = 0;
/** Code of unreachable: prohibited by an administrator. */
export const ICMPV6_PROHIBITED = 1;
/** Code of unreachable: address unreachable. */
export const ICMPV6_ADDRESS_UNREACHABLE = 3;
/** Code of unreachable: port unreachable. */
export const ICMPV6_PORT_UNREACHABLE = 4;

const CHECKSUM_AT = 2;

/** Reads a message that travelled between `ends`. */
export function parseIcmpv6(bytes: Uint8Array, ends: Ends): IcmpMessage | Malformed {
  if (bytes.length < ICMP_HEADER_LENGTH) return truncated("ICMPv6", ICMP_HEADER_LENGTH, bytes.length);
  if (transportChecksum(ends, PROTOCOL_ICMPV6, bytes) !== 0)
    return { malformed: "checksum", protocol: "ICMPv6", problem: "checksum is wrong" };
  const view = viewOf(bytes);
  return { type: view.getUint8(0), code: view.getUint8(1), bytes: bytes.slice(ICMP_HEADER_LENGTH) };
}

/** Writes a message that travels between `ends`, checksum computed. */
export function emitIcmpv6(message: IcmpMessage, ends: Ends): Uint8Array {
  const bytes = concat(bytesOf(message.type, message.code, 0, 0), message.bytes);
  put16(viewOf(bytes), CHECKSUM_AT, transportChecksum(ends, PROTOCOL_ICMPV6, bytes));
  return bytes;
}

/** One line about type and code. */
export function describeIcmpv6(message: Pick<IcmpMessage, "type" | "code">): string {
  return `ICMPv6 ${icmpWords(PROTOCOL_ICMPV6, message)}`;
}

/** Whether messages of this type quote the packet they are about, as far as this file knows them. */
export function isIcmpv6Error(type: number): boolean {
  return type >= ICMPV6_UNREACHABLE && type <= ICMPV6_PARAMETER_PROBLEM;
}
