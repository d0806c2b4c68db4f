/** The one number line of both families, and covering a stretch of it with prefixes. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  addressKey,
  FAMILY_KEYS,
  type Family,
  firstAddress,
  formatPrefix,
  keyAddress,
  lastAddress,
  normalizeRanges,
  parseAddress,
  prefixesOfRange,
  prefixKeys,
} from "../../src/address/index.ts";
import { addresses, prefixes } from "./generators.ts";

const keyOf = (text: string): bigint => {
  const address = parseAddress(text);
  if (address === undefined) throw new Error(text);
  return addressKey(address);
};

const cover = (family: Family, low: string, high: string): string[] =>
  prefixesOfRange(family, keyOf(low), keyOf(high)).map(formatPrefix);

describe("addressKey", () => {
  it("puts IPv4 at 0 and IPv6 at 2^128", () => {
    expect(keyOf("0.0.0.1")).toBe(1n);
    expect(keyOf("::1")).toBe((1n << 128n) + 1n);
    expect(FAMILY_KEYS[4]).toEqual([keyOf("0.0.0.0"), keyOf("255.255.255.255")]);
    expect(FAMILY_KEYS[6]).toEqual([keyOf("::"), keyOf("ffff:ffff:ffff:ffff:ffff:ffff:ffff:ffff")]);
  });

  it("is undone by keyAddress", () => {
    fc.assert(
      fc.property(addresses, (address) => {
        expect(keyAddress(addressKey(address))).toEqual(address);
      }),
    );
  });

  it("leaves numbers that are no key a fault of the caller", () => {
    for (const key of [-1n, 1n << 32n, (1n << 128n) - 1n, 1n << 129n])
      expect(() => keyAddress(key)).toThrow(RangeError);
  });

  it("gives a prefix the keys of its ends", () => {
    fc.assert(
      fc.property(prefixes, (prefix) => {
        expect(prefixKeys(prefix)).toEqual([addressKey(firstAddress(prefix)), addressKey(lastAddress(prefix))]);
      }),
    );
  });
});

describe("prefixesOfRange", () => {
  it("covers a range that is no prefix", () => {
    expect(cover(4, "10.0.0.1", "10.0.0.6")).toEqual(["10.0.0.1/32", "10.0.0.2/31", "10.0.0.4/31", "10.0.0.6/32"]);
    expect(cover(6, "::1", "::3")).toEqual(["::1/128", "::2/127"]);
  });

  it("covers everything with one prefix", () => {
    expect(prefixesOfRange(4, ...FAMILY_KEYS[4]).map(formatPrefix)).toEqual(["0.0.0.0/0"]);
    expect(prefixesOfRange(6, ...FAMILY_KEYS[6]).map(formatPrefix)).toEqual(["::/0"]);
  });

  it("covers nothing with none, and refuses keys of the other family", () => {
    expect(prefixesOfRange(4, 5n, 4n)).toEqual([]);
    expect(() => prefixesOfRange(4, 0n, keyOf("::"))).toThrow(RangeError);
    expect(() => prefixesOfRange(6, 0n, keyOf("::"))).toThrow(RangeError);
  });

  it("a prefix is its own cover", () => {
    fc.assert(
      fc.property(prefixes, (prefix) => {
        expect(prefixesOfRange(prefix.family, ...prefixKeys(prefix))).toEqual([prefix]);
      }),
    );
  });

  it("covers exactly the range, with no two prefixes that could be one", () => {
    fc.assert(
      fc.property(addresses, addresses, (a, b) => {
        fc.pre(a.family === b.family);
        const [low, high] = a.value <= b.value ? [addressKey(a), addressKey(b)] : [addressKey(b), addressKey(a)];
        const prefixList = prefixesOfRange(a.family, low, high);
        expect(normalizeRanges(prefixList.map(prefixKeys))).toEqual([[low, high]]);
        const sizes = prefixList.map(({ length }) => length);
        const joinable = prefixList.some(({ length, value }, i) => {
          const next = prefixList[i + 1];
          return next?.length === length && value % (2n << BigInt((a.family === 4 ? 32 : 128) - length)) === 0n;
        });
        expect([sizes, joinable]).toEqual([sizes, false]);
      }),
    );
  });

  it("covers every range of a small block with as few prefixes as a search finds", () => {
    const fewest = fewestBlocks(16);
    for (let low = 0; low < 16; low++) {
      for (let high = low; high < 16; high++) {
        expect([low, high, prefixesOfRange(4, BigInt(low), BigInt(high)).length]).toEqual([
          low,
          high,
          fewest(low, high),
        ]);
      }
    }
  });
});

/** Fewest aligned blocks that tile `low` to `high`, by trying every first block. */
function fewestBlocks(size: number): (low: number, high: number) => number {
  const search = (low: number, high: number): number => {
    if (low > high) return 0;
    let best = Number.POSITIVE_INFINITY;
    for (let block = 1; block <= size && low % block === 0 && low + block - 1 <= high; block *= 2) {
      best = Math.min(best, 1 + search(low + block, high));
    }
    return best;
  };
  return search;
}
