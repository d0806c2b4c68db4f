/**
 * One number line for the addresses of both families, so that a set of addresses is a `Ranges` like any other:
 * IPv4 at 0 to 2^32-1, IPv6 at 2^128 to 2^129-1. A number on it is called a key.
 */
import { type Address, type Family, widthOf } from "./address.ts";
import { lastAddress, type Prefix } from "./prefix.ts";
import { intersectRanges, type Ranges } from "./ranges.ts";

const IPV6_BASE = 1n << 128n;
const IPV4_SIZE = 1n << 32n;

/** All keys of each family, as one entry of a `Ranges`. */
export const FAMILY_KEYS: {
  /** IPv4. */
  readonly 4: readonly [low: bigint, high: bigint];
  /** IPv6. */
  readonly 6: readonly [low: bigint, high: bigint];
} = { 4: [0n, IPV4_SIZE - 1n], 6: [IPV6_BASE, 2n * IPV6_BASE - 1n] };

/** The key of an address; keys of the same family ascend with the addresses. */
export function addressKey(address: Address): bigint {
  return address.family === 4 ? address.value : IPV6_BASE + address.value;
}

/** The address of a key. Throws a `RangeError` for a number that is no key. */
export function keyAddress(key: bigint): Address {
  if (key >= 0n && key < IPV4_SIZE) return { family: 4, value: key };
  if (key >= IPV6_BASE && key < 2n * IPV6_BASE) return { family: 6, value: key - IPV6_BASE };
  throw new RangeError(`${key} is no address key`);
}

/** Keys of the first and last address of a prefix: one entry of a `Ranges`. */
export function prefixKeys(prefix: Prefix): readonly [low: bigint, high: bigint] {
  return [addressKey(prefix), addressKey(lastAddress(prefix))];
}

/**
 * The fewest prefixes that together hold exactly the keys from `low` to `high`, ascending; none when `high` is below `low`.
 * Throws a `RangeError` when a key is not of the family.
 */
export function prefixesOfRange(family: Family, low: bigint, high: bigint): Prefix[] {
  if (low > high) return [];
  const [first, last] = FAMILY_KEYS[family];
  if (low < first || high > last) throw new RangeError(`keys ${low} to ${high} are not all IPv${family}`);
  const prefixes: Prefix[] = [];
  const width = widthOf(family);
  let from = low - first;
  const end = high - first;
  while (from <= end) {
    const bits = blockBits(from, end, width);
    prefixes.push({ family, value: from, length: width - bits });
    from += 1n << BigInt(bits);
  }
  return prefixes;
}

/** The fewest prefixes that together hold exactly these keys, IPv4 before IPv6, each family ascending. */
export function prefixesOfKeys(set: Ranges): Prefix[] {
  return ([4, 6] as const).flatMap((family) =>
    intersectRanges(set, [FAMILY_KEYS[family]]).flatMap(([low, high]) => prefixesOfRange(family, low, high)),
  );
}

/** Host bits of the largest block that begins at `from` and does not reach beyond `end`. */
function blockBits(from: bigint, end: bigint, width: number): number {
  // 2^bits must divide `from` and be at most the count left; both are read off binary digits.
  const aligned = from === 0n ? width : trailingZeros(from);
  const fitting = (end - from + 1n).toString(2).length - 1;
  return Math.min(aligned, fitting);
}

function trailingZeros(value: bigint): number {
  return (value & -value).toString(2).length - 1;
}
