/**
 * Prefixes: the addresses that share their first bits (RFC 4632 section 3.1, RFC 4291 section 2.3). Every length from 0 to
 * the width of the family is legal and treated alike (RFC 7608 for IPv6).
 */
import { type Address, type Family, formatAddress, parseAddress, widthOf } from "./address.ts";

/** A block of addresses of one family. */
export type Prefix = {
  /** 4 or 6. */
  readonly family: Family;
  /** The first address of the block as a number; its host bits are zero. */
  readonly value: bigint;
  /** Leading bits that all its addresses share: 0 to 32 or 0 to 128. */
  readonly length: number;
};

const LENGTH_TEXT = /^(?:0|[1-9]\d{0,2})$/;

/**
 * Reads `address/length`. The address keeps its host bits, the prefix does not: `10.71.30.1/24` is the address
 * 10.71.30.1 in the prefix 10.71.30.0/24. Undefined for anything else, a length beyond the family's width included.
 */
export function parsePrefix(text: string): { readonly prefix: Prefix; readonly address: Address } | undefined {
  const slash = text.indexOf("/");
  if (slash < 0) return undefined;
  const address = parseAddress(text.slice(0, slash));
  const lengthText = text.slice(slash + 1);
  if (address === undefined || !LENGTH_TEXT.test(lengthText)) return undefined;
  const length = Number(lengthText);
  if (length > widthOf(address.family)) return undefined;
  return { prefix: prefixOf(address, length), address };
}

/** The text of a prefix, in the form of `formatAddress`: `10.71.30.0/24`. */
export function formatPrefix(prefix: Prefix): string {
  return `${formatAddress(prefix)}/${prefix.length}`;
}

/** Bits behind the first `length`, as a shift. Throws for a length that the family does not have. */
function hostBits(family: Family, length: number): bigint {
  const width = widthOf(family);
  if (!Number.isInteger(length) || length < 0 || length > width)
    throw new RangeError(`length ${length} of ${width} bits`);
  return BigInt(width - length);
}

/** The prefix of that length which holds the address. Throws a `RangeError` for a length that the family does not have. */
export function prefixOf(address: Address, length: number): Prefix {
  const bits = hostBits(address.family, length);
  return { family: address.family, value: (address.value >> bits) << bits, length };
}

/** Whether an address lies in a prefix; never when the families differ. */
export function prefixContains(prefix: Prefix, address: Address): boolean {
  if (prefix.family !== address.family) return false;
  const bits = hostBits(prefix.family, prefix.length);
  return address.value >> bits === prefix.value >> bits;
}

/** Whether every address of `inner` lies in `outer`; equal prefixes lie in each other. */
export function prefixWithin(outer: Prefix, inner: Prefix): boolean {
  return inner.length >= outer.length && prefixContains(outer, inner);
}

/** Whether two prefixes share an address; then one lies within the other. */
export function prefixesOverlap(a: Prefix, b: Prefix): boolean {
  return prefixWithin(a, b) || prefixWithin(b, a);
}

/** The lowest address: all host bits zero. */
export function firstAddress(prefix: Prefix): Address {
  return { family: prefix.family, value: prefix.value };
}

/** The highest address: all host bits one. */
export function lastAddress(prefix: Prefix): Address {
  const bits = hostBits(prefix.family, prefix.length);
  return { family: prefix.family, value: prefix.value | ((1n << bits) - 1n) };
}

/** The address with host number `host`, counted from the first address as 0; undefined outside the prefix. */
export function hostAddress(prefix: Prefix, host: bigint): Address | undefined {
  const bits = hostBits(prefix.family, prefix.length);
  if (host < 0n || host >> bits !== 0n) return undefined;
  return { family: prefix.family, value: prefix.value + host };
}

/**
 * Whether an address is the broadcast address of its prefix: all host bits one (RFC 1812 section 5.3.5.2). A /31 and
 * a /32 have none (RFC 3021 section 2.2), IPv6 has none at all, and 255.255.255.255 belongs to no prefix.
 */
export function isBroadcast(address: Address, prefix: Prefix): boolean {
  if (prefix.family !== 4 || address.family !== 4 || prefix.length > 30) return false;
  return address.value === lastAddress(prefix).value;
}

/** How many leading bits two addresses share (RFC 6724 section 2.2, over the whole address); 0 when the families differ. */
export function commonPrefixLength(a: Address, b: Address): number {
  if (a.family !== b.family) return 0;
  const different = a.value ^ b.value;
  return widthOf(a.family) - (different === 0n ? 0 : different.toString(2).length);
}
