/** Sets of addresses as text. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  addressKey,
  formatAddressSet,
  normalizeRanges,
  parseAddressSet,
  prefixKeys,
  type Ranges,
  unionRanges,
} from "../../src/address/index.ts";
import { addresses, prefixes } from "./generators.ts";

describe("parseAddressSet", () => {
  it("reads an address, a prefix and a range, short or long", () => {
    expect(parseAddressSet("10.0.0.9")).toEqual([[0x0a000009n, 0x0a000009n]]);
    expect(parseAddressSet("10.0.0.0/30")).toEqual([[0x0a000000n, 0x0a000003n]]);
    expect(parseAddressSet("10.71.40.100-199")).toEqual(parseAddressSet("10.71.40.100-10.71.40.199"));
    expect(parseAddressSet("10.71.40.100-100")).toEqual(parseAddressSet("10.71.40.100"));
    expect(parseAddressSet("fd71::1-fd71::2")?.[0]?.[0]).toBe((1n << 128n) + (0xfd71n << 112n) + 1n);
  });

  it.each([
    ["host bits in a prefix", "10.0.0.1/24"],
    ["a range that ends before it begins", "10.0.0.9-8"],
    ["a range of two families", "10.0.0.1-::1"],
    ["a short end above 255", "10.0.0.1-256"],
    ["a short end of an IPv6 range", "fd71::1-2"],
    ["a leading zero in a short end", "10.0.0.1-02"],
    ["three ends", "10.0.0.1-2-3"],
    ["half a range", "10.0.0.1-"],
    ["a word", "anything"],
  ])("refuses %s", (_, text) => {
    expect(parseAddressSet(text)).toBeUndefined();
  });
});

describe("formatAddressSet", () => {
  it("writes each piece in its shortest form", () => {
    const set = normalizeRanges([
      [0x0a000000n, 0x0a0000ffn],
      [0x0b000001n, 0x0b000002n],
      [0x0c000001n, 0x0c000001n],
    ]);
    expect(formatAddressSet(set)).toEqual(["10.0.0.0/24", "11.0.0.1-11.0.0.2", "12.0.0.1"]);
  });

  it("every piece is read back", () => {
    const pieces = fc.oneof(
      addresses.map((address): readonly [bigint, bigint] => [addressKey(address), addressKey(address)]),
      prefixes.map(prefixKeys),
    );
    fc.assert(
      fc.property(fc.array(pieces, { maxLength: 6 }), (list) => {
        const set = normalizeRanges(list);
        const read = formatAddressSet(set).map((text) => parseAddressSet(text) ?? []);
        expect(read.reduce<Ranges>(unionRanges, [])).toEqual(set);
      }),
    );
  });
});
