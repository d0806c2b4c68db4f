/**
 * Hardware (MAC) addresses: 48 bits, and what is derived from them: the modified EUI-64 interface identifier
 * (RFC 4291 appendix A, RFC 2464 section 4), link-local addresses (RFC 2464 section 5), and the group addresses on Ethernet
 * that multicast is sent to (RFC 2464 section 7; RFC 1112 section 6.4 for IPv4, from memory).
 */
import type { Address } from "./address.ts";

/** A 48-bit hardware address; the byte sent first is highest. */
export type Hardware = bigint;

/** Every station: ff:ff:ff:ff:ff:ff. */
export const BROADCAST_HARDWARE: Hardware = 0xffffffffffffn;

const HARDWARE_TEXT = /^[0-9a-f]{2}(?:(?::[0-9a-f]{2}){5}|(?:-[0-9a-f]{2}){5})$/i;
const GROUP_BIT = 1n << 40n; // lowest bit of the first byte
const LOCAL_BIT = 1n << 41n; // the universal/local bit, "u" of RFC 4291 appendix A

/** Reads six pairs of hexadecimal digits joined by `:` throughout or `-` throughout; undefined for anything else. */
export function parseHardware(text: string): Hardware | undefined {
  return HARDWARE_TEXT.test(text) ? BigInt(`0x${text.replace(/[:-]/g, "")}`) : undefined;
}

/** The usual text: `52:54:00:12:34:56`, lower case. */
export function formatHardware(hardware: Hardware): string {
  const digits = hardware.toString(16).padStart(12, "0");
  return digits.replace(/..(?=.)/g, "$&:");
}

/** Whether frames to this address go to a group of stations; the broadcast address is one. */
export function isMulticastHardware(hardware: Hardware): boolean {
  return (hardware & GROUP_BIT) !== 0n;
}

/** The modified EUI-64 identifier, 64 bits: ff-fe in the middle and the universal/local bit inverted (RFC 2464 section 4). */
export function interfaceIdentifier(hardware: Hardware): bigint {
  const inverted = hardware ^ LOCAL_BIT;
  return ((inverted >> 24n) << 40n) | (0xfffen << 24n) | (inverted & 0xffffffn);
}

const LINK_LOCAL = 0xfe80n << 112n; // fe80::/64, RFC 4291 section 2.5.6

/** The link-local address that an interface forms from its hardware address (RFC 2464 section 5). */
export function linkLocal(hardware: Hardware): Address {
  return { family: 6, value: LINK_LOCAL | interfaceIdentifier(hardware) };
}

const SOLICITED_NODE = (0xff02n << 112n) | 0x1ff000000n; // ff02::1:ff00:0/104, RFC 4291 section 2.7.1

/** The solicited-node multicast address of a unicast or anycast IPv6 address. Throws a `RangeError` for IPv4, which has none. */
export function solicitedNode(address: Address): Address {
  if (address.family !== 6) throw new RangeError("IPv4 has no solicited-node addresses");
  return { family: 6, value: SOLICITED_NODE | (address.value & 0xffffffn) };
}

/**
 * The hardware address that packets to a multicast address are sent to. IPv6: 33-33 and the last 32 bits (RFC 2464 section 7). IPv4:
 * 01-00-5e and the last 23 bits, so that 32 groups share one (RFC 1112 section 6.4, from memory).
 */
export function multicastHardware(address: Address): Hardware {
  if (address.family === 6) return (0x3333n << 32n) | (address.value & 0xffffffffn);
  return (0x01005en << 24n) | (address.value & 0x7fffffn);
}
