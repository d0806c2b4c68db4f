/**
 * The internet checksum: the complement of the one's complement sum of 16-bit words (RFC 1071 section 1), its
 * incremental update (RFC 1624 section 3, equation 3) and the pseudo header that UDP, TCP and ICMPv6 add to it.
 */
import type { Address } from "../address/index.ts";
import { addressBytes, viewOf } from "./bytes.ts";

/** Source and destination of the IP packet around: what a pseudo header is made of. */
export type Ends = {
  /** Who sends. */
  readonly source: Address;
  /** Who is to receive; of the same family. */
  readonly destination: Address;
};

/** One's complement sum, 16 bits; an odd last byte counts as the high half of a word. */
export function onesComplementSum(bytes: Uint8Array, initial = 0): number {
  const view = viewOf(bytes);
  const even = bytes.length & ~1;
  let sum = initial;
  for (let at = 0; at < even; at += 2) sum += view.getUint16(at);
  if (even < bytes.length) sum += view.getUint8(even) << 8;
  return fold(sum);
}

/** The checksum that these bytes need, while their checksum field is zero; 0 when they hold a right one. */
export function internetChecksum(bytes: Uint8Array, initial = 0): number {
  return ~onesComplementSum(bytes, initial) & 0xffff;
}

/** The checksum after one 16-bit word changed: HC' = ~(~HC + ~m + m'). RFC 1624 equation 3. */
export function updateChecksum(checksum: number, oldWord: number, newWord: number): number {
  return ~fold((~checksum & 0xffff) + (~oldWord & 0xffff) + newWord) & 0xffff;
}

/** Checksum over pseudo header and message (RFC 768; RFC 8200 section 8.1); 0 when the message holds a right one. */
export function transportChecksum(ends: Ends, protocol: number, message: Uint8Array): number {
  const addresses = onesComplementSum(addressBytes(ends.source, ends.destination));
  // The families order protocol and length differently, and the length has 32 bits in IPv6; the sum is the same.
  return internetChecksum(message, addresses + protocol + (message.length >>> 16) + (message.length & 0xffff));
}

function fold(sum: number): number {
  let folded = sum;
  while (folded > 0xffff) folded = (folded & 0xffff) + Math.floor(folded / 0x10000);
  return folded;
}
