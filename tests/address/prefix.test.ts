/** Prefixes: text, containment, ends, hosts; an independent library and the runtime's block list as judges. */
import { BlockList } from "node:net";
import fc from "fast-check";
import ipaddr from "ipaddr.js";
import { describe, expect, it } from "vitest";
import {
  type Address,
  commonPrefixLength,
  firstAddress,
  formatAddress,
  formatPrefix,
  hostAddress,
  isBroadcast,
  lastAddress,
  type Prefix,
  parseAddress,
  parsePrefix,
  prefixContains,
  prefixesOverlap,
  prefixOf,
  prefixWithin,
  widthOf,
} from "../../src/address/index.ts";
import { addresses, prefixes } from "./generators.ts";

function prefix(text: string): Prefix {
  const parsed = parsePrefix(text);
  if (parsed === undefined) throw new Error(text);
  return parsed.prefix;
}

function address(text: string): Address {
  const parsed = parseAddress(text);
  if (parsed === undefined) throw new Error(text);
  return parsed;
}

/** An address near the prefix: inside, at its ends, or one bit away. */
const neighbours = prefixes.chain((block) =>
  fc.bigInt({ min: 0n, max: (1n << BigInt(widthOf(block.family))) - 1n }).chain((noise) => {
    const bits = BigInt(widthOf(block.family) - block.length);
    const inside = block.value | (noise & ((1n << bits) - 1n));
    const flipped = block.length === 0 ? inside : inside ^ (1n << bits);
    const values = fc.constantFrom(inside, flipped, block.value, lastAddress(block).value, noise);
    return fc.tuple(
      fc.constant(block),
      values.map((value): Address => ({ family: block.family, value })),
    );
  }),
);

describe("parsePrefix", () => {
  it("keeps host bits in the address and clears them in the prefix", () => {
    expect(parsePrefix("10.71.30.1/24")).toEqual({ prefix: prefix("10.71.30.0/24"), address: address("10.71.30.1") });
  });

  it.each([
    "10.0.0.0",
    "10.0.0.0/",
    "10.0.0.0/33",
    "10.0.0.0/08",
    "10.0.0.0/-1",
    "10.0.0.0/8/8",
    "10.0.0.0/255.0.0.0",
    "::/129",
    "::/1e1",
    "10/8",
    "/8",
    "::1%a/64",
  ])("refuses `%s`", (text) => {
    expect(parsePrefix(text)).toBeUndefined();
  });

  it("formatting and reading back is identity", () => {
    fc.assert(
      fc.property(prefixes, (block) => {
        expect(parsePrefix(formatPrefix(block))?.prefix).toEqual(block);
      }),
    );
  });

  it("a length that the family does not have is a fault of the caller", () => {
    expect(() => prefixOf(address("10.0.0.0"), 33)).toThrow(RangeError);
    expect(() => prefixOf(address("::"), -1)).toThrow(RangeError);
    expect(() => prefixOf(address("::"), 1.5)).toThrow(RangeError);
  });
});

describe("containment", () => {
  it("agrees with the independent library and the runtime's block list", () => {
    fc.assert(
      fc.property(neighbours, ([block, candidate]) => {
        const other = ipaddr.parseCIDR(formatPrefix(block));
        const contained = prefixContains(block, candidate);
        expect(ipaddr.parse(formatAddress(candidate)).match(other)).toBe(contained);
        if (block.length === 0) return; // the block list takes no length of 0
        const list = new BlockList();
        const kind = block.family === 4 ? "ipv4" : "ipv6";
        list.addSubnet(formatAddress(block), block.length, kind);
        expect(list.check(formatAddress(candidate), kind)).toBe(contained);
      }),
    );
  });

  it("is exactly lying between the first and the last address", () => {
    fc.assert(
      fc.property(neighbours, ([block, candidate]) => {
        const between = candidate.value >= firstAddress(block).value && candidate.value <= lastAddress(block).value;
        expect(prefixContains(block, candidate)).toBe(between);
      }),
    );
  });

  it("never holds across families", () => {
    expect(prefixContains(prefix("0.0.0.0/0"), address("::"))).toBe(false);
    expect(prefixesOverlap(prefix("0.0.0.0/0"), prefix("::/0"))).toBe(false);
    expect(prefixWithin(prefix("::/0"), prefix("10.0.0.0/8"))).toBe(false);
  });

  it("one prefix lies within another exactly when both its ends do", () => {
    fc.assert(
      fc.property(neighbours, fc.nat(128), ([outer, near], length) => {
        const inner = prefixOf(near, length % (widthOf(outer.family) + 1));
        const ends = [firstAddress(inner), lastAddress(inner)].every((end) => prefixContains(outer, end));
        expect(prefixWithin(outer, inner)).toBe(ends);
        const common = inner.value <= lastAddress(outer).value && outer.value <= lastAddress(inner).value;
        expect(prefixesOverlap(outer, inner)).toBe(common);
        expect(prefixesOverlap(inner, outer)).toBe(common);
      }),
    );
  });
});

describe("ends and hosts", () => {
  it("first and broadcast addresses are those of the independent library", () => {
    fc.assert(
      fc.property(prefixes, (block) => {
        const text = formatPrefix(block);
        const four = block.family === 4;
        const first = four ? ipaddr.IPv4.networkAddressFromCIDR(text) : ipaddr.IPv6.networkAddressFromCIDR(text);
        const last = four ? ipaddr.IPv4.broadcastAddressFromCIDR(text) : ipaddr.IPv6.broadcastAddressFromCIDR(text);
        expect(parseAddress(first.toNormalizedString())).toEqual(firstAddress(block));
        expect(parseAddress(last.toNormalizedString())).toEqual(lastAddress(block));
      }),
    );
  });

  it("hosts are counted from the first address and end with the prefix", () => {
    const crew = prefix("10.71.30.0/24");
    expect(hostAddress(crew, 1n)).toEqual(address("10.71.30.1"));
    expect(hostAddress(crew, 255n)).toEqual(address("10.71.30.255"));
    expect(hostAddress(crew, 256n)).toBeUndefined();
    expect(hostAddress(crew, -1n)).toBeUndefined();
    expect(hostAddress(prefix("fd71:2c9e:5a04:30::/64"), 0x10n)).toEqual(address("fd71:2c9e:5a04:30::10"));
  });

  it("only the last address of a prefix up to /30 is a broadcast address", () => {
    expect(isBroadcast(address("10.71.30.255"), prefix("10.71.30.0/24"))).toBe(true);
    expect(isBroadcast(address("10.71.30.254"), prefix("10.71.30.0/24"))).toBe(false);
    expect(isBroadcast(address("10.71.31.255"), prefix("10.71.30.0/24"))).toBe(false);
    expect(isBroadcast(address("10.0.0.3"), prefix("10.0.0.0/30"))).toBe(true);
    expect(isBroadcast(address("fd71::ffff"), prefix("fd71::/112"))).toBe(false);
    expect(isBroadcast(address("fd71::f"), prefix("fd71::/28"))).toBe(false);
    expect(isBroadcast(address("::3"), prefix("0.0.0.0/30"))).toBe(false);
    expect(isBroadcast(address("0.0.0.15"), prefix("::/28"))).toBe(false);
    expect(isBroadcast(lastAddress(prefix("fd71::/28")), prefix("fd71::/28"))).toBe(false);
  });
});

describe("commonPrefixLength", () => {
  it("counts shared leading bits", () => {
    expect(commonPrefixLength(address("10.0.0.0"), address("10.0.0.1"))).toBe(31);
    expect(commonPrefixLength(address("::1"), address("::1"))).toBe(128);
    expect(commonPrefixLength(address("8000::"), address("::"))).toBe(0);
    expect(commonPrefixLength(address("0.0.0.1"), address("::1"))).toBe(0);
  });

  it("is the longest prefix of one address that holds the other", () => {
    fc.assert(
      fc.property(addresses, fc.nat(127), (a, bit) => {
        const b = { family: a.family, value: a.value ^ (1n << BigInt(bit % widthOf(a.family))) };
        const length = commonPrefixLength(a, b);
        expect(prefixContains(prefixOf(a, length), b)).toBe(true);
        expect(prefixContains(prefixOf(a, length + 1), b)).toBe(false);
      }),
    );
  });
});
