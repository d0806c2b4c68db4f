import { describe, expect, it } from "vitest";
import {
  addressOption,
  type DhcpMessage,
  type DhcpOption,
  describeDhcp,
  dhcpLength,
  emitDhcp,
  emitIp,
  isMalformed,
  lengthOfIp,
  messageTypeOption,
  parseDhcp,
  parseIp,
} from "../../src/wire/index.ts";
import { hex, ip, LAPTOP, packet } from "./notation.ts";

const NOWHERE = ip("0.0.0.0");

function dhcp(more: Partial<DhcpMessage> = {}): DhcpMessage {
  return {
    operation: 1,
    hops: 0,
    transaction: 0x1234abcd,
    seconds: 0,
    flags: 0,
    clientAddress: NOWHERE,
    yourAddress: NOWHERE,
    nextServer: NOWHERE,
    relayAddress: NOWHERE,
    clientHardware: LAPTOP,
    options: [messageTypeOption(1)],
    ...more,
  };
}

const FULL = dhcp({
  operation: 2,
  hops: 3,
  transaction: 0xffffffff,
  seconds: 65535,
  flags: 0x8001,
  clientAddress: ip("10.71.40.1"),
  yourAddress: ip("10.71.40.2"),
  nextServer: ip("10.71.40.3"),
  relayAddress: ip("10.71.40.4"),
  serverName: hex("65 64 67 65"),
  bootFile: hex("61*128"),
  options: [messageTypeOption(2), { code: 224, bytes: hex("01 02") }, { code: 80, bytes: hex("") }],
});

describe("a DHCP message", () => {
  it("keeps every field, and options in their order", () => {
    expect(parseDhcp(emitDhcp(FULL))).toEqual(FULL);
  });

  it("lies as RFC 2131 figure 1 draws it", () => {
    const bytes = emitDhcp(FULL);
    expect(bytes.slice(0, 12)).toEqual(hex("02 01 06 03 ff*4 ff ff 80 01"));
    expect(bytes.slice(12, 28)).toEqual(hex("0a 47 28 01 0a 47 28 02 0a 47 28 03 0a 47 28 04"));
    expect(bytes.slice(28, 44)).toEqual(hex("02 00 00 00 0a 01 00*10"));
    expect(bytes.slice(44, 50)).toEqual(hex("65 64 67 65 00 00"));
    expect(bytes.slice(236, 251)).toEqual(hex("63 82 53 63 35 01 02 e0 02 01 02 50 00 ff 00"));
  });

  it("is at least 300 bytes", () => {
    expect([emitDhcp(dhcp()).length, dhcpLength(dhcp())]).toEqual([300, 300]);
    const long = dhcp({ options: [{ code: 12, bytes: hex("61*100") }] });
    expect([emitDhcp(long).length, dhcpLength(long)]).toEqual([343, 343]);
  });

  it("passes over pads", () => {
    const bytes = emitDhcp(dhcp());
    bytes.set(hex("00 00 35 01 01 00 ff"), 240);
    expect(parseDhcp(bytes)).toEqual(dhcp());
  });

  it("sends what is longer than 255 bytes in pieces (RFC 3396, from memory)", () => {
    const long: DhcpOption = { code: 121, bytes: hex("aa*600") };
    const message = dhcp({ options: [long] });
    const parsed = parseDhcp(emitDhcp(message));
    expect(isMalformed(parsed) ? [] : parsed.options.map(({ bytes }) => bytes.length)).toEqual([255, 255, 90]);
    expect(dhcpLength(message)).toBe(emitDhcp(message).length);
  });

  it("travels as such between its ports", () => {
    const body = { kind: "udp", sourcePort: 68, destinationPort: 67, data: { kind: "dhcp", message: FULL } } as const;
    const sent = packet("0.0.0.0", "255.255.255.255", body);
    expect(parseIp(emitIp(sent))).toEqual(sent);
    expect(lengthOfIp(sent)).toBe(emitIp(sent).length);
  });
});

describe("bytes that are no DHCP message", () => {
  it.each([
    ["of another kind of hardware", 1, "06", "unsupported"],
    ["without magic cookie", 236, "00", "value"],
    ["whose options do not end", 243, "00*57", "truncated"],
    ["with an option beyond the bytes", 243, "0c 40 61*55", "truncated"],
  ])("%s are refused", (_, at, spoil, malformed) => {
    const bytes = emitDhcp(dhcp());
    bytes.set(hex(spoil), at);
    expect(parseDhcp(bytes)).toMatchObject({ malformed, protocol: "DHCP" });
  });
});

describe("what has no place in a DHCP message", () => {
  it.each([
    ["option 0", dhcp({ options: [{ code: 0, bytes: hex("01") }] })],
    ["option 255", dhcp({ options: [{ code: 255, bytes: hex("01") }] })],
    ["a server name of 65 bytes", dhcp({ serverName: hex("61*65") })],
    ["a transaction of 33 bits", dhcp({ transaction: 2 ** 32 })],
  ])("%s is our fault", (_, wrong) => {
    expect(() => emitDhcp(wrong)).toThrow(RangeError);
  });
});

describe("a message in words", () => {
  it.each([
    [dhcp(), "DHCP discover for 02:00:00:00:0a:01"],
    [dhcp({ options: [messageTypeOption(99)] }), "DHCP message 99 for 02:00:00:00:0a:01"],
    [
      dhcp({ yourAddress: ip("10.71.40.9"), relayAddress: ip("10.71.30.1"), options: [messageTypeOption(5)] }),
      "DHCP acknowledgement for 02:00:00:00:0a:01, 10.71.40.9, by relay 10.71.30.1",
    ],
    [dhcp({ options: [addressOption(50, NOWHERE)] }), "DHCP message without type for 02:00:00:00:0a:01"],
  ])("%#: tells who gets what", (message, words) => {
    expect(describeDhcp(message)).toBe(words);
  });
});
