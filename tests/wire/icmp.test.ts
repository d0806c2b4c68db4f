import { describe, expect, it } from "vitest";
import {
  describeIcmp,
  describeIcmpv6,
  describeIp,
  emitIcmp,
  emitIcmpv6,
  emitIp,
  type IcmpBody,
  type IcmpContent,
  type IpPacket,
  isMalformed,
  lengthOfIp,
  parseIcmp,
  parseIcmpv6,
  parseIp,
} from "../../src/wire/index.ts";
import { hex, ip, packet, toHex, udp } from "./notation.ts";

type Ends = readonly [source: string, destination: string];

const NEAR: Ends = ["192.0.2.1", "192.0.2.2"];
const NEAR6: Ends = ["2001:db8::1", "2001:db8::2"];
const LOST = packet("192.0.2.2", "203.0.113.9", udp(5000, 53, hex("01 02")));
const LOST6 = packet("2001:db8::2", "2001:db8:9::9", udp(5000, 53, hex("01 02")));

function icmp(type: number, code: number, content: IcmpContent): IcmpBody {
  return { kind: "icmp", type, code, content };
}

function echo(data = hex("")): IcmpContent {
  return { kind: "echo", identifier: 7, sequence: 1, data };
}

function again(sent: IpPacket): IpPacket {
  const found = parseIp(emitIp(sent));
  if (isMalformed(found)) throw new Error(found.problem);
  return found;
}

describe("an ICMP message", () => {
  it("carries a checksum over itself", () => {
    expect(toHex(emitIcmp({ type: 8, code: 0, bytes: hex("00 07 00 01") }))).toBe("08 00 f7 f7 00 07 00 01");
  });

  it("with a wrong checksum is refused", () => {
    expect(parseIcmp(hex("08 00 f7 f8 00 07 00 01"))).toMatchObject({ malformed: "checksum" });
  });

  it("of a type without a name survives", () => {
    const odd = packet(...NEAR, icmp(253, 9, { kind: "other", bytes: hex("01 02 03") }));
    expect(again(odd)).toEqual(odd);
  });

  it("may end behind its checksum", () => {
    expect(parseIcmp(emitIcmp({ type: 200, code: 0, bytes: hex("") }))).toEqual({ type: 200, code: 0, bytes: hex("") });
  });
});

describe("an ICMPv6 message", () => {
  const ends = { source: ip("2001:db8::1"), destination: ip("2001:db8::2") };

  it("has its ends under the checksum", () => {
    const bytes = emitIcmpv6({ type: 128, code: 0, bytes: hex("00 07 00 01") }, ends);
    expect(parseIcmpv6(bytes, ends)).toEqual({ type: 128, code: 0, bytes: hex("00 07 00 01") });
    expect(parseIcmpv6(bytes, { ...ends, source: ip("2001:db8::3") })).toMatchObject({ malformed: "checksum" });
  });

  it("inside IPv4 is just a protocol", () => {
    const strange = packet(...NEAR, { kind: "raw", protocol: 58, bytes: hex("80 00 00 00") });
    expect(again(strange)).toEqual(strange);
  });
});

describe("an echo", () => {
  it.each<readonly [Ends, number]>([
    [NEAR, 8],
    [NEAR, 0],
    [NEAR6, 128],
    [NEAR6, 129],
  ])("between %s of type %d keeps identifier, sequence and data", (ends, type) => {
    const ping = packet(...ends, icmp(type, 0, echo(hex("61 62 63"))));
    expect(again(ping)).toEqual(ping);
  });

  it("without identifier is refused", () => {
    const short = packet(...NEAR, icmp(8, 0, { kind: "other", bytes: hex("00 07") }));
    expect(parseIp(emitIp(short))).toMatchObject({ malformed: "truncated", protocol: "ICMP" });
  });
});

describe("an error", () => {
  it.each<readonly [string, Ends, IcmpBody]>([
    ["host unreachable", NEAR, icmp(3, 1, { kind: "error", quoted: LOST })],
    ["fragmentation needed", NEAR, icmp(3, 4, { kind: "error", mtu: 1400, quoted: LOST })],
    ["redirect with its gateway", NEAR, icmp(5, 1, { kind: "error", rest: 0xc0000203, quoted: LOST })],
    ["hop limit exceeded", NEAR, icmp(11, 0, { kind: "error", quoted: LOST })],
    ["ICMPv6 no route", NEAR6, icmp(1, 0, { kind: "error", quoted: LOST6 })],
    ["packet too big", NEAR6, icmp(2, 0, { kind: "error", mtu: 1280, quoted: LOST6 })],
    ["parameter problem with its pointer", NEAR6, icmp(4, 1, { kind: "error", rest: 40, quoted: LOST6 })],
    ["about bytes", NEAR, icmp(3, 1, { kind: "error", quoted: hex("45 00 01") })],
  ])("%s keeps what it is about", (_, ends, body) => {
    const error = packet(...ends, body);
    expect(again(error)).toEqual(error);
    expect(lengthOfIp(error)).toBe(emitIp(error).length);
  });

  it("in IPv4 is at most 576 bytes (RFC 1812 section 4.3.2.3)", () => {
    const long = packet("192.0.2.2", "203.0.113.9", udp(1, 2, new Uint8Array(1000)));
    const error = packet(...NEAR, icmp(3, 1, { kind: "error", quoted: long }), { options: hex("94 04 00 00") });
    expect([lengthOfIp(error), emitIp(error).length]).toEqual([576, 576]);
    expect(again(error).body).toMatchObject({ content: { quoted: emitIp(long).slice(0, 576 - 24 - 8) } });
  });

  it("in IPv6 is at most 1280 bytes (RFC 4443 section 2.4, from memory)", () => {
    const long = packet("2001:db8::2", "2001:db8:9::9", udp(1, 2, new Uint8Array(1400)));
    const error = packet(...NEAR6, icmp(2, 0, { kind: "error", mtu: 1280, quoted: long }));
    expect([lengthOfIp(error), emitIp(error).length]).toEqual([1280, 1280]);
  });
});

describe("a message in words", () => {
  it.each([
    [3, 13, "ICMP administratively prohibited"],
    [3, 4, "ICMP fragmentation needed"],
    [11, 0, "ICMP hop limit exceeded"],
    [12, 7, "ICMP parameter problem, code 7"],
    [253, 0, "ICMP type 253"],
  ])("type %d code %d is %s", (type, code, words) => {
    expect(describeIcmp({ type, code })).toBe(words);
  });

  it("of ICMPv6 has names of its own", () => {
    expect(describeIcmpv6({ type: 1, code: 3 })).toBe("ICMPv6 address unreachable");
    expect(describeIcmpv6({ type: 2, code: 0 })).toBe("ICMPv6 packet too big");
  });

  it("tells what an error is about", () => {
    expect(describeIp(packet(...NEAR, icmp(3, 4, { kind: "error", mtu: 1400, quoted: LOST })))).toBe(
      "192.0.2.1 to 192.0.2.2: ICMP fragmentation needed (MTU 1400), about 192.0.2.2 to 203.0.113.9: UDP from port 5000 to port 53, 2 bytes",
    );
    expect(describeIp(packet(...NEAR, icmp(3, 1, { kind: "error", quoted: hex("45") })))).toBe(
      "192.0.2.1 to 192.0.2.2: ICMP host unreachable, about a packet in part",
    );
  });
});
