import { describe, expect, it } from "vitest";
import {
  describeIpv6,
  emitIp,
  emitIpv6,
  type IpPacket,
  type Ipv6Packet,
  isMalformed,
  lengthOfIp,
  parseIp,
  parseIpv6,
} from "../../src/wire/index.ts";
import { hex, ip, packet, toHex, udp } from "./notation.ts";

const ENDS = "20 01 0d b8 00*11 01 20 01 0d b8 00*11 02";

function header(more: Partial<Ipv6Packet> = {}): Ipv6Packet {
  return {
    source: ip("2001:db8::1"),
    destination: ip("2001:db8::2"),
    hopLimit: 64,
    trafficClass: 0,
    flowLabel: 0,
    nextHeader: 59, // no next header, RFC 8200 section 4.7
    payload: hex(""),
    ...more,
  };
}

function read(bytes: Uint8Array): IpPacket {
  const found = parseIp(bytes);
  if (isMalformed(found)) throw new Error(found.problem);
  return found;
}

describe("an IPv6 header", () => {
  it("is 40 bytes", () => {
    const written = emitIpv6(header({ trafficClass: 0xb8, flowLabel: 0x12345, payload: hex("aa") }));
    expect(written).toEqual(hex(`6b 81 23 45 00 01 3b 40 ${ENDS} aa`));
  });

  it("keeps every field", () => {
    const odd = header({ trafficClass: 0xff, flowLabel: 0xfffff, hopLimit: 0, payload: hex("01 02 03") });
    expect(parseIpv6(emitIpv6(odd))).toEqual(odd);
  });

  it("of another version, or longer than the bytes, is refused", () => {
    expect(parseIpv6(hex(`40 00 00 00 00 00 3b 40 ${ENDS}`))).toMatchObject({ malformed: "value" });
    expect(parseIpv6(hex(`60 00 00 00 00 01 3b 40 ${ENDS}`))).toMatchObject({ malformed: "truncated" });
  });

  it("names its ends and next header", () => {
    expect(describeIpv6(header())).toBe("2001:db8::1 to 2001:db8::2, next header 59");
  });

  it("has no place for a flow label of 21 bits", () => {
    expect(() => emitIpv6(header({ flowLabel: 0x100000 }))).toThrow(RangeError);
  });
});

describe("extension headers", () => {
  const hopByHop = { header: 0, bytes: hex("05 02 00 00 01 00") }; // router alert and padding
  const destinationOptions = { header: 60, bytes: hex("01 04 00*12") };

  it("are kept unread and in order", () => {
    const chained = packet("2001:db8::1", "2001:db8::2", udp(9, 9), { extensions: [hopByHop, destinationOptions] });
    const bytes = emitIp(chained);
    expect(toHex(bytes.subarray(40, 50))).toBe("3c 00 05 02 00 00 01 00 11 01");
    expect(bytes[6]).toBe(0);
    expect(read(bytes)).toEqual(chained);
    expect(lengthOfIp(chained)).toBe(bytes.length);
  });

  it("cover a fragment header that announces a whole packet", () => {
    const whole = packet("2001:db8::1", "2001:db8::2", udp(9, 9), {
      extensions: [{ header: 44, bytes: hex("00 00 12 34 56 78") }],
    });
    expect(read(emitIp(whole))).toEqual(whole);
  });

  it("that reach beyond the packet are refused", () => {
    const bytes = hex(`60 00 00 00 00 08 00 40 ${ENDS} 11 01 05 02 00 00 01 00`);
    expect(parseIp(bytes)).toMatchObject({ malformed: "truncated", protocol: "IPv6 extension header" });
  });

  it("of 7 bytes have no place", () => {
    const wrong = packet("::1", "::1", udp(9, 9), { extensions: [{ header: 60, bytes: hex("00*5") }] });
    expect(() => emitIp(wrong)).toThrow(RangeError);
  });
});

describe("an IPv6 fragment", () => {
  const piece = packet(
    "2001:db8::1",
    "2001:db8::2",
    { kind: "raw", protocol: 17, bytes: hex("01*16") },
    { identification: 0xdeadbeef, moreFragments: true, fragmentOffset: 5 },
  );

  it("carries offset and identification in a header of its own", () => {
    const bytes = emitIp(piece);
    expect(bytes[6]).toBe(44);
    expect(toHex(bytes.subarray(40, 48))).toBe("11 00 00 29 de ad be ef");
    expect(read(bytes)).toEqual(piece);
    expect(lengthOfIp(piece)).toBe(bytes.length);
  });
});
