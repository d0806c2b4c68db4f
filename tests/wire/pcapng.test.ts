import { describe, expect, it } from "vitest";
import { emitCapture, emitCapturedFrame, emitInterface, emitSection } from "../../src/wire/index.ts";
import { hex } from "./notation.ts";

// Layout from memory of draft-ietf-opsawg-pcapng; tests/wire/dissector.test.ts has an independent reader check it.
const SECTION = "0a 0d 0d 0a 2c 00*3 4d 3c 2b 1a 01 00 00 00 ff*8 04 00 07 00 64 72 79 72 61 63 6b 00 00*4 2c 00*3";
const EDGE = "01 00*3 28 00*3 01 00 00 00 00*4 02 00 04 00 65 64 67 65 09 00 01 00 09 00*3 00*4 28 00*3";

describe("a capture file", () => {
  it("begins with a little-endian section of unstated length", () => {
    expect(emitSection()).toEqual(hex(SECTION));
  });

  it("names an Ethernet interface and counts nanoseconds", () => {
    expect(emitInterface("edge")).toEqual(hex(EDGE));
  });

  it("holds a frame with its time in two halves, padded to 4 bytes", () => {
    expect(emitCapturedFrame({ interface: 1, atNs: 0x1_0000_0002n, bytes: hex("aa bb cc") })).toEqual(
      hex("06 00*3 24 00*3 01 00*3 01 00*3 02 00*3 03 00*3 03 00*3 aa bb cc 00 24 00*3"),
    );
  });

  it("holds a comment as an option", () => {
    expect(emitCapturedFrame({ interface: 0, atNs: 0n, bytes: hex("aa*4"), comment: "é!" })).toEqual(
      hex("06 00*3 30 00*3 00*4 00*8 04 00*3 04 00*3 aa*4 01 00 03 00 c3 a9 21 00 00*4 30 00*3"),
    );
  });

  it("is the blocks one after the other", () => {
    const capture = emitCapture({ interfaces: ["edge"], frames: [{ interface: 0, atNs: 1n, bytes: hex("aa") }] });
    const frame = "06 00*3 24 00*3 00*4 00*4 01 00*3 01 00*3 01 00*3 aa 00*3 24 00*3";
    expect(capture).toEqual(hex(`${SECTION} ${EDGE} ${frame}`));
  });
});
