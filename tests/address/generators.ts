/** Generators of addresses, prefixes and number sets for the laws of `src/address/`. */
import fc from "fast-check";
import { type Address, normalizeRanges, type Prefix, prefixOf, type Ranges, widthOf } from "../../src/address/index.ts";

/** Values with long runs of zeros and ones, where text forms and prefixes have their edges, and evenly spread ones. */
function values(bits: number): fc.Arbitrary<bigint> {
  const groups = fc.array(fc.constantFrom(0n, 0n, 0n, 1n, 0xffn, 0xffffn, 0xabcdn), {
    minLength: bits / 16,
    maxLength: bits / 16,
  });
  const sparse = groups.map((list) => list.reduce<bigint>((value, group) => (value << 16n) | group, 0n));
  return fc.oneof(sparse, fc.bigInt({ min: 0n, max: (1n << BigInt(bits)) - 1n }));
}

/** IPv4 addresses. */
export const ipv4: fc.Arbitrary<Address> = values(32).map((value) => ({ family: 4, value }));

/** IPv6 addresses, IPv4-mapped ones among them. */
export const ipv6: fc.Arbitrary<Address> = fc
  .oneof(
    { weight: 9, arbitrary: values(128) },
    { weight: 1, arbitrary: values(32).map((value) => (0xffffn << 32n) | value) },
  )
  .map((value) => ({ family: 6, value }));

/** Addresses of either family. */
export const addresses: fc.Arbitrary<Address> = fc.oneof(ipv4, ipv6);

/** Prefixes of either family and every length. */
export const prefixes: fc.Arbitrary<Prefix> = addresses.chain((address) =>
  fc.integer({ min: 0, max: widthOf(address.family) }).map((length) => prefixOf(address, length)),
);

/** Numbers in the small universe: 0 to 23. */
export const UNIVERSE: readonly bigint[] = Array.from({ length: 24 }, (_, index) => BigInt(index));

/** Sets within the small universe, as a `Ranges` and as a plain set. */
export const smallSets: fc.Arbitrary<{ readonly ranges: Ranges; readonly members: ReadonlySet<bigint> }> = fc
  .subarray([...UNIVERSE])
  .map((members) => ({
    ranges: normalizeRanges(members.map((member) => [member, member])),
    members: new Set(members),
  }));
