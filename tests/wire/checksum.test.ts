import { describe, expect, it } from "vitest";
import { internetChecksum, onesComplementSum, transportChecksum, updateChecksum } from "../../src/wire/index.ts";
import { hex, ip } from "./notation.ts";

describe("the one's complement sum", () => {
  it("counts an odd last byte as the high half of a word", () => {
    expect(onesComplementSum(hex("12"))).toBe(0x1200);
  });

  it("of nothing is zero", () => {
    expect(onesComplementSum(hex(""))).toBe(0);
  });

  it("carries around, again and again", () => {
    expect(onesComplementSum(hex("ff*40000"))).toBe(0xffff);
    expect(onesComplementSum(hex("ff ff 00 01"))).toBe(1);
  });
});

describe("the checksum", () => {
  it("over bytes that hold it is zero", () => {
    // The header of an echo request that a kernel sent (kernel-frames.ts).
    const header = hex("45 00 00 54 1a 48 40 00 40 01 9c 5d c0 00 02 01 c0 00 02 02");
    expect(internetChecksum(header)).toBe(0);
    expect(internetChecksum(hex("45 00 00 54 1a 48 40 00 40 01 00 00 c0 00 02 01 c0 00 02 02"))).toBe(0x9c5d);
  });

  it("updated for one word equals the one computed anew", () => {
    const before = hex("45 00 00 54 1a 48 40 00 40 01 00 00 c0 00 02 01");
    const after = hex("45 00 00 54 1a 48 40 00 3f 01 00 00 c0 00 02 01");
    expect(updateChecksum(internetChecksum(before), 0x4001, 0x3f01)).toBe(internetChecksum(after));
  });

  it("with a pseudo header differs between ends but not by their order", () => {
    const [a, b, c] = [ip("2001:db8::1"), ip("2001:db8::2"), ip("2001:db8::4")];
    const message = hex("00 01 02 03");
    const there = transportChecksum({ source: a, destination: b }, 17, message);
    expect(transportChecksum({ source: b, destination: a }, 17, message)).toBe(there);
    expect(transportChecksum({ source: a, destination: c }, 17, message)).not.toBe(there);
  });

  it("counts all 32 bits of a message's length", () => {
    // 65536 bytes of zeros: only the length's upper half, 1, is left of the message.
    const ends = { source: ip("::"), destination: ip("::") };
    expect(transportChecksum(ends, 0, new Uint8Array(65536))).toBe(~1 & 0xffff);
  });
});
