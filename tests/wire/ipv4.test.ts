import { describe, expect, it } from "vitest";
import { describeIpv4, emitIpv4, type Ipv4Packet, parseIpv4 } from "../../src/wire/index.ts";
import { hex, ip, toHex } from "./notation.ts";

function packet(more: Partial<Ipv4Packet> = {}): Ipv4Packet {
  return {
    source: ip("192.0.2.1"),
    destination: ip("192.0.2.2"),
    hopLimit: 64,
    protocol: 253, // for experiments, RFC 3692
    identification: 0x1a48,
    reserved: false,
    dontFragment: true,
    moreFragments: false,
    fragmentOffset: 0,
    trafficClass: 0,
    options: hex(""),
    payload: hex("aa bb"),
    ...more,
  };
}

/** A packet with some bytes replaced and the header checksum left as it was. */
function spoiled(at: number, bytes: string): Uint8Array {
  const whole = emitIpv4(packet());
  whole.set(hex(bytes), at);
  return whole;
}

describe("an IPv4 packet", () => {
  it("is a header of 20 bytes and its payload", () => {
    // Header checksum worked out by hand: 4500 + 0016 + 1a48 + 4000 + 40fd + c000 + 0201 + c000 + 0202 = 2645e.
    expect(toHex(emitIpv4(packet()))).toBe("45 00 00 16 1a 48 40 00 40 fd 9b 9f c0 00 02 01 c0 00 02 02 aa bb");
  });

  it("keeps every field", () => {
    const odd = packet({
      hopLimit: 1,
      reserved: true,
      dontFragment: false,
      moreFragments: true,
      fragmentOffset: 0x1fff,
      trafficClass: 0xb8,
      options: hex("94 04 00 00"),
    });
    expect(parseIpv4(emitIpv4(odd))).toEqual(odd);
  });

  it("ends where its total length says; what follows is padding", () => {
    expect(parseIpv4(new Uint8Array([...emitIpv4(packet()), 0, 0, 0]))).toEqual(packet());
  });

  it("names its ends and protocol", () => {
    expect(describeIpv4(packet())).toBe("192.0.2.1 to 192.0.2.2, protocol 253");
  });
});

describe("bytes that are no IPv4 packet", () => {
  it.each([
    ["another version", spoiled(0, "55"), "value"],
    ["a header below 20 bytes", spoiled(0, "44"), "length"],
    ["a total length below the header's", spoiled(2, "00 13"), "length"],
    ["a total length beyond the bytes", spoiled(2, "00 17"), "truncated"],
    ["a wrong header checksum", spoiled(8, "3f"), "checksum"],
  ])("%s: refused", (_, bytes, malformed) => {
    expect(parseIpv4(bytes)).toMatchObject({ malformed, protocol: "IPv4" });
  });
});

describe("what has no place in an IPv4 packet", () => {
  it.each([
    ["options of 3 bytes", packet({ options: hex("01 01 01") })],
    ["options of 44 bytes", packet({ options: hex("01*44") })],
    ["a fragment offset of 14 bits", packet({ fragmentOffset: 0x2000 })],
    ["65536 bytes in all", packet({ payload: new Uint8Array(65516) })],
  ])("%s is our fault", (_, wrong) => {
    expect(() => emitIpv4(wrong)).toThrow(RangeError);
  });
});
