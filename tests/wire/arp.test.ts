import { describe, expect, it } from "vitest";
import { ARP_REPLY, ARP_REQUEST, type ArpPacket, describeArp, emitArp, parseArp } from "../../src/wire/index.ts";
import { hex, ip, LAPTOP, ROUTER, toHex } from "./notation.ts";

function arp(more: Partial<ArpPacket> = {}): ArpPacket {
  return {
    operation: ARP_REQUEST,
    senderHardware: LAPTOP,
    senderAddress: ip("10.71.10.50"),
    targetHardware: 0n,
    targetAddress: ip("10.71.10.1"),
    ...more,
  };
}

const WRITTEN = "00 01 08 00 06 04 00 01 02 00 00 00 0a 01 0a 47 0a 32 00 00 00 00 00 00 0a 47 0a 01";

describe("an ARP packet", () => {
  it("is 28 bytes, sender before target", () => {
    expect(toHex(emitArp(arp()))).toBe(WRITTEN);
    expect(parseArp(hex(WRITTEN))).toEqual(arp());
  });

  it("keeps an operation that has no name", () => {
    const inverse = arp({ operation: 8 });
    expect(parseArp(emitArp(inverse))).toEqual(inverse);
    expect(describeArp(inverse)).toBe("ARP operation 8 from 10.71.10.50 about 10.71.10.1");
  });

  it("of another hardware or protocol space is unsupported, not wrong", () => {
    expect(parseArp(hex(WRITTEN.replace("00 01 08 00", "00 06 08 00")))).toMatchObject({ malformed: "unsupported" });
    expect(parseArp(hex(WRITTEN.replace("00 01 08 00", "00 01 86 dd")))).toMatchObject({ malformed: "unsupported" });
  });

  it("whose address lengths contradict its spaces is refused", () => {
    expect(parseArp(hex(WRITTEN.replace("06 04", "08 04")))).toMatchObject({ malformed: "length" });
  });
});

describe("an ARP packet in words", () => {
  it.each([
    [arp(), "ARP: 10.71.10.50 asks where 10.71.10.1 is"],
    [arp({ senderAddress: ip("0.0.0.0") }), "ARP: is 10.71.10.1 taken?"],
    [arp({ targetAddress: ip("10.71.10.50") }), "ARP: 10.71.10.50 announces itself at 02:00:00:00:0a:01"],
    [arp({ operation: ARP_REPLY, targetHardware: ROUTER }), "ARP: 10.71.10.50 is at 02:00:00:00:0a:01"],
  ])("says: $1", (packet, sentence) => {
    expect(describeArp(packet)).toBe(sentence);
  });
});
