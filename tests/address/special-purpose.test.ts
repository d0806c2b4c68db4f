/** What addresses are for; the published flags stand in tests/standards/addresses.test.ts. */
import fc from "fast-check";
import ipaddr from "ipaddr.js";
import { describe, expect, it } from "vitest";
import {
  type Address,
  addressKey,
  formatAddress,
  isLinkLocal,
  isMulticast,
  isPublic,
  isUnspecified,
  PUBLIC_KEYS,
  parseAddress,
  prefixContains,
  rangesContain,
  SPECIAL_PURPOSE_BLOCKS,
  specialPurpose,
  widthOf,
} from "../../src/address/index.ts";
import { addresses } from "./generators.ts";

function address(text: string): Address {
  const parsed = parseAddress(text);
  if (parsed === undefined) throw new Error(text);
  return parsed;
}

/** Addresses anywhere, and at or one beside the ends of every block. */
const interesting: fc.Arbitrary<Address> = fc.oneof(
  addresses,
  fc
    .tuple(fc.constantFrom(...SPECIAL_PURPOSE_BLOCKS), fc.constantFrom(-1n, 0n, 1n))
    .map(([{ prefix }, step]) => ({ family: prefix.family, value: prefix.value + step }))
    .filter(({ family, value }) => value >= 0n && value < 1n << BigInt(widthOf(family))),
);

describe("specialPurpose", () => {
  it("answers with the most specific block", () => {
    expect(specialPurpose(address("192.0.0.1"))?.name).toBe("DS-Lite");
    expect(specialPurpose(address("192.0.0.8"))?.name).toBe("IETF Protocol Assignments");
    expect(specialPurpose(address("255.255.255.255"))?.name).toBe("Limited Broadcast");
    expect(specialPurpose(address("2001:2::1"))?.name).toBe("Benchmarking");
    expect(specialPurpose(address("8.8.8.8"))).toBeUndefined();
  });

  it("no other block that holds the address is longer", () => {
    fc.assert(
      fc.property(interesting, (candidate) => {
        const holding = SPECIAL_PURPOSE_BLOCKS.filter(({ prefix }) => prefixContains(prefix, candidate));
        const longest = Math.max(...holding.map(({ prefix }) => prefix.length));
        expect(specialPurpose(candidate)?.prefix.length ?? Number.NEGATIVE_INFINITY).toBe(longest);
      }),
    );
  });
});

describe("isPublic", () => {
  it.each([
    "8.8.8.8",
    "192.0.2.1",
    "198.51.100.53",
    "203.0.113.9",
    "2001:db8::1",
    "2a00::1",
    "192.88.99.1",
    "64:ff9b::1",
  ])("counts %s as public", (text) => {
    expect(isPublic(address(text))).toBe(true);
  });

  it.each([
    "10.71.10.1",
    "172.31.0.1",
    "192.168.0.1",
    "100.64.0.1",
    "127.0.0.1",
    "0.0.0.0",
    "169.254.1.1",
    "255.255.255.255",
    "224.0.0.1",
    "fd71::1",
    "fe80::1",
    "::1",
    "::",
    "ff02::1",
    "::ffff:8.8.8.8",
    "2002::1",
  ])("does not count %s as public", (text) => {
    expect(isPublic(address(text))).toBe(false);
  });

  it("is the verdict of the most specific block, multicast apart", () => {
    fc.assert(
      fc.property(interesting, (candidate) => {
        const entry = specialPurpose(candidate);
        const told = entry === undefined || entry.global || entry.name.startsWith("Documentation");
        expect(rangesContain(PUBLIC_KEYS, addressKey(candidate))).toBe(told && !isMulticast(candidate));
      }),
    );
  });
});

describe("kinds of addresses", () => {
  it("multicast, link-local and unspecified are those of the independent library", () => {
    fc.assert(
      fc.property(interesting, (candidate) => {
        const kind = ipaddr.parse(formatAddress(candidate)).range();
        expect(isMulticast(candidate)).toBe(kind === "multicast");
        expect(isLinkLocal(candidate)).toBe(kind === "linkLocal");
        // The library calls all of 0.0.0.0/8 unspecified.
        const zero = formatAddress(candidate) === "0.0.0.0" || formatAddress(candidate) === "::";
        expect(isUnspecified(candidate)).toBe(zero);
      }),
    );
  });

  it("knows the ends of the multicast blocks", () => {
    expect(
      ["223.255.255.255", "224.0.0.0", "239.255.255.255", "240.0.0.0"].map((t) => isMulticast(address(t))),
    ).toEqual([false, true, true, false]);
    expect(isMulticast(address("fe80::1"))).toBe(false);
    expect(isMulticast(address("ff02::1"))).toBe(true);
  });
});
