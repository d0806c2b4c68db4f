/** Numbers, ranges and lists of ranges as text. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  formatRanges,
  normalizeRanges,
  parseNumber,
  parseNumberRange,
  parsePortRange,
  parseRanges,
  parseVlan,
  parseVlans,
} from "../../src/address/index.ts";

const hosts = { low: 0n, high: 255n };

describe("parseNumber", () => {
  it("reads plain decimal only", () => {
    expect(parseNumber("0")).toBe(0n);
    expect(parseNumber("340282366920938463463374607431768211455")).toBe((1n << 128n) - 1n);
    for (const text of ["", "01", "00", "-1", "+1", "1e3", "0x1", "1.0", " 1", "1\n", "1".repeat(40)]) {
      expect([text, parseNumber(text)]).toEqual([text, undefined]);
    }
  });
});

describe("parseNumberRange", () => {
  it("reads a range and a single number", () => {
    expect(parseNumberRange("100-199", hosts)).toEqual({ low: 100n, high: 199n });
    expect(parseNumberRange("7", hosts)).toEqual({ low: 7n, high: 7n });
    expect(parseNumberRange("7-7", hosts)).toEqual({ low: 7n, high: 7n });
  });

  it("names the end that is out of bounds", () => {
    expect(parseNumberRange("100-300", hosts)).toEqual({ problem: "outside", piece: "300", at: 4 });
    expect(parseNumberRange("300-100", hosts)).toEqual({ problem: "outside", piece: "300", at: 0 });
    expect(parseNumberRange("256", hosts)).toEqual({ problem: "outside", piece: "256", at: 0 });
  });

  it("tells a range the wrong way round from one that is none", () => {
    expect(parseNumberRange("9-8", hosts)).toEqual({ problem: "backwards", piece: "9-8", at: 0 });
    for (const text of ["", "-", "1-", "-1", "1-2-3", "1..2", "a", "1 - 2"]) {
      expect(parseNumberRange(text, hosts)).toEqual({ problem: "form", piece: text, at: 0 });
    }
  });
});

describe("parsePortRange", () => {
  it("takes 0 to 65535", () => {
    expect(parsePortRange("0-65535")).toEqual({ low: 0n, high: 65535n });
    expect(parsePortRange("65536")).toMatchObject({ problem: "outside" });
  });
});

describe("parseRanges", () => {
  it("marks the piece that breaks the order", () => {
    expect(parseVlans("1,5-9,9-12")).toEqual({ problem: "order", piece: "9-12", at: 6 });
  });

  it("merges pieces that touch", () => {
    expect(parseVlans("1,2,3-4")).toEqual([[1n, 4n]]);
  });

  it.each(["", ",", "1,", ",1", "1,,2", "1, 2", "1-2-3"])("refuses `%s`", (text) => {
    expect(parseVlans(text)).toMatchObject({ problem: "form" });
  });

  it("formatting and reading back is identity", () => {
    const pair = fc.tuple(fc.integer({ min: 1, max: 4094 }), fc.integer({ min: 0, max: 40 }));
    fc.assert(
      fc.property(fc.array(pair, { minLength: 1, maxLength: 12 }), (pairs) => {
        const set = normalizeRanges(pairs.map(([low, more]) => [BigInt(low), BigInt(Math.min(low + more, 4094))]));
        expect(parseRanges(formatRanges(set), { low: 1n, high: 4094n })).toEqual(set);
      }),
    );
  });
});

describe("parseVlan", () => {
  it("takes plain numbers only", () => {
    expect(parseVlan("30")).toBe(30);
    for (const text of ["", "030", "3O", "1e1", "-1", "30 "]) expect(parseVlan(text)).toBeUndefined();
  });
});
