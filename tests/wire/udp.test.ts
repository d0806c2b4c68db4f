import { describe, expect, it } from "vitest";
import { describeUdp, emitIp, emitUdp, parseIp, parseUdp } from "../../src/wire/index.ts";
import { hex, ip, packet, toHex, udp } from "./notation.ts";

const ENDS = { source: ip("192.0.2.1"), destination: ip("192.0.2.2") };
const ENDS6 = { source: ip("2001:db8::1"), destination: ip("2001:db8::2") };
const DATAGRAM = { sourcePort: 5000, destinationPort: 53, payload: hex("aa bb cc") };

describe("a UDP datagram", () => {
  it("counts its header in its length", () => {
    expect(toHex(emitUdp(DATAGRAM, ENDS).subarray(0, 6))).toBe("13 88 00 35 00 0b");
    expect(parseUdp(emitUdp(DATAGRAM, ENDS), ENDS)).toEqual(DATAGRAM);
  });

  it("whose checksum comes out as zero carries all ones", () => {
    // Ends and header of an empty datagram sum to S; a payload of one word, ffff - S, brings the sum to ffff.
    const empty = { sourcePort: 0, destinationPort: 0, payload: hex("00 00") };
    const rest = emitUdp(empty, ENDS).slice(6, 8);
    const datagram = emitUdp({ ...empty, payload: rest }, ENDS);
    expect(toHex(datagram.subarray(6, 8))).toBe("ff ff");
    expect(parseUdp(datagram, ENDS)).toEqual({ ...empty, payload: rest });
  });

  it("may come without checksum over IPv4, never over IPv6 (RFC 8200 section 8.1)", () => {
    const bare = hex("13 88 00 35 00 0b 00 00 aa bb cc");
    expect(parseUdp(bare, ENDS)).toEqual(DATAGRAM);
    expect(parseUdp(bare, ENDS6)).toMatchObject({ malformed: "checksum" });
  });

  it("with a wrong checksum is refused", () => {
    expect(parseUdp(emitUdp(DATAGRAM, ENDS), { ...ENDS, source: ip("192.0.2.9") })).toMatchObject({
      malformed: "checksum",
    });
  });

  it("whose length is below its header's or beyond the bytes is refused", () => {
    expect(parseUdp(hex("00 01 00 02 00 07 00 00"), ENDS)).toMatchObject({ malformed: "length" });
    expect(parseUdp(hex("00 01 00 02 00 09 00 00"), ENDS)).toMatchObject({ malformed: "truncated" });
  });

  it("on DHCP's ports that holds no DHCP stays bytes", () => {
    const odd = packet("0.0.0.0", "255.255.255.255", udp(68, 67, hex("01 02")));
    expect(parseIp(emitIp(odd))).toEqual(odd);
  });

  it("has no place for port 65536", () => {
    expect(() => emitUdp({ ...DATAGRAM, sourcePort: 65536 }, ENDS)).toThrow(RangeError);
    expect(() => emitUdp({ ...DATAGRAM, payload: new Uint8Array(65528) }, ENDS)).toThrow(RangeError);
  });

  it("in words names both ports", () => {
    expect(describeUdp(DATAGRAM)).toBe("UDP from port 5000 to port 53, 3 bytes");
  });
});
