import { describe, expect, it } from "vitest";
import {
  clampSegmentSize,
  describeTcp,
  emitTcp,
  parseTcp,
  segmentSizeOf,
  segmentSizeOptions,
  TCP_ACK,
  TCP_FIN,
  TCP_PSH,
  TCP_SYN,
  TCP_URG,
} from "../../src/wire/index.ts";
import { hex, ip, segment, toHex } from "./notation.ts";

const ENDS = { source: ip("192.0.2.1"), destination: ip("192.0.2.2") };

describe("a TCP segment", () => {
  it("keeps every field", () => {
    const full = segment({
      flags: TCP_URG | TCP_ACK | 0xe00,
      sequence: 0xffffffff,
      acknowledgement: 0x80000000,
      window: 0xffff,
      urgentPointer: 7,
      options: hex("02 04 05 b4"),
      data: hex("61"),
    });
    const bytes = emitTcp(full, ENDS);
    expect(toHex(bytes.subarray(12, 14))).toBe("6e 30");
    expect(parseTcp(bytes, ENDS)).toEqual(full);
  });

  it.each([
    ["whose header is below 20 bytes", "40 02", "length"],
    ["whose header reaches beyond the bytes", "f0 02", "truncated"],
    ["with a wrong checksum", "50 03", "checksum"],
  ])("%s is refused", (_, word, malformed) => {
    const bytes = emitTcp(segment({ flags: TCP_SYN }), ENDS);
    bytes.set(hex(word), 12);
    expect(parseTcp(bytes, ENDS)).toMatchObject({ malformed, protocol: "TCP" });
  });

  it.each([
    ["options of 3 bytes", segment({ options: hex("01 01 01") })],
    ["options of 44 bytes", segment({ options: hex("01*44") })],
    ["flags of 13 bits", segment({ flags: 0x1000 })],
    ["a sequence number of 33 bits", segment({ sequence: 2 ** 32 })],
  ])("has no place for %s", (_, wrong) => {
    expect(() => emitTcp(wrong, ENDS)).toThrow(RangeError);
  });

  it("in words names its flags", () => {
    expect(describeTcp(segment({ flags: TCP_SYN | TCP_ACK }))).toBe("TCP from port 3017 to port 23, SYN ACK");
    expect(describeTcp(segment({ flags: TCP_FIN | TCP_PSH, data: hex("61") }))).toBe(
      "TCP from port 3017 to port 23, FIN PSH, 1 byte",
    );
    expect(describeTcp(segment())).toBe("TCP from port 3017 to port 23, no flags");
  });
});

describe("the maximum segment size", () => {
  // As a kernel sent them (kernel-frames.ts): size 1460, selective acknowledgement, time stamps, pad, window scale.
  const options = hex("02 04 05 b4 04 02 08 0a 43 f6 61 3c 00*4 01 03 03 0a");

  it("is found among other options", () => {
    expect(segmentSizeOf(options)).toBe(1460);
    expect(segmentSizeOf(hex("01 01 04 02 02 04 05 00"))).toBe(1280);
    expect(segmentSizeOf(segmentSizeOptions(1452))).toBe(1452);
  });

  it.each(["", "01 01 01 01", "00 00 02 04", "04 00 02 04", "02 04 05", "02 03 05 00"])(
    "is absent from options %s",
    (bytes) => {
      expect(segmentSizeOf(hex(bytes))).toBeUndefined();
    },
  );

  it("is lowered where it is higher, and nothing else changes", () => {
    const clamped = clampSegmentSize(options, 1452);
    expect(toHex(clamped)).toBe(toHex(options).replace("05 b4", "05 ac"));
    expect(clampSegmentSize(options, 1460)).toBe(options);
    expect(clampSegmentSize(hex("01 01 01 01"), 1452)).toEqual(hex("01 01 01 01"));
  });
});
