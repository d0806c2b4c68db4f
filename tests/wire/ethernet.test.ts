import { describe, expect, it } from "vitest";
import {
  describeEthernet,
  type EthernetFrame,
  emitEthernet,
  ethernetLength,
  LENGTH_FIELD,
  parseEthernet,
  type Tag,
} from "../../src/wire/index.ts";
import { hex, LAPTOP, mac, ROUTER, toHex } from "./notation.ts";

const ENDS = "02 00 00 00 0b 02 02 00 00 00 0a 01";
const EXPERIMENT = 0x88b5; // EtherType for local experiments, from memory

function tag(vlan: number, more: Partial<Tag> = {}): Tag {
  return { tpid: 0x8100, priority: 0, dropEligible: false, vlan, ...more };
}

function frame(more: Partial<EthernetFrame> = {}): EthernetFrame {
  return { destination: ROUTER, source: LAPTOP, tags: [], etherType: EXPERIMENT, payload: hex("01*46"), ...more };
}

describe("an Ethernet frame", () => {
  it("is written destination first", () => {
    expect(toHex(emitEthernet(frame()).subarray(0, 15))).toBe(`${ENDS} 88 b5 01`);
  });

  it("is padded with zeros to 60 bytes", () => {
    const bytes = emitEthernet(frame({ payload: hex("01 02") }));
    expect(bytes.length).toBe(60);
    expect(bytes.slice(14)).toEqual(hex("01 02 00*44"));
  });

  it("keeps a stack of tags, outermost first", () => {
    const tags = [tag(100, { tpid: 0x88a8, dropEligible: true }), tag(10, { priority: 5 })];
    const bytes = emitEthernet(frame({ tags }));
    expect(toHex(bytes.subarray(12, 22))).toBe("88 a8 10 64 81 00 a0 0a 88 b5");
    expect(parseEthernet(bytes)).toEqual(frame({ tags }));
  });

  it("with a length instead of an EtherType loses its padding", () => {
    const llc = frame({ etherType: LENGTH_FIELD, payload: hex("42 42 03 00") });
    const bytes = emitEthernet(llc);
    expect(toHex(bytes.subarray(12, 18))).toBe("00 04 42 42 03 00");
    expect(parseEthernet(bytes)).toEqual(llc);
  });

  it("counts tags and padding in its length", () => {
    expect([ethernetLength(0, 46), ethernetLength(0, 0), ethernetLength(1, 46)]).toEqual([60, 60, 64]);
  });
});

describe("bytes that are no Ethernet frame", () => {
  it.each([
    ["no EtherType", ENDS, "truncated"],
    ["a tag without what it tags", `${ENDS} 81 00 00 0a`, "truncated"],
    ["a length beyond the bytes", `${ENDS} 00 05 42 42 03`, "truncated"],
    ["a number between lengths and EtherTypes", `${ENDS} 05 dd 00*1600`, "value"],
  ])("%s: refused", (_, bytes, malformed) => {
    expect(parseEthernet(hex(bytes))).toMatchObject({ malformed, protocol: "Ethernet" });
  });
});

describe("what has no place on the wire", () => {
  it.each([
    ["VLAN 4096", frame({ tags: [tag(4096)] })],
    ["priority 8", frame({ tags: [tag(1, { priority: 8 })] })],
    ["an unknown tag protocol", frame({ tags: [tag(1, { tpid: 0x9100 })] })],
    ["an LLC payload of 1501 bytes", frame({ etherType: LENGTH_FIELD, payload: new Uint8Array(1501) })],
  ])("%s is our fault", (_, wrong) => {
    expect(() => emitEthernet(wrong)).toThrow(RangeError);
  });
});

describe("a header in words", () => {
  it("names everyone and every tag", () => {
    const tags = [tag(100, { tpid: 0x88a8, dropEligible: true }), tag(10, { priority: 5 })];
    expect(describeEthernet({ destination: mac("ff:ff:ff:ff:ff:ff"), source: LAPTOP, tags })).toBe(
      "02:00:00:00:0a:01 to everyone, service VLAN 100 drop eligible, VLAN 10 priority 5",
    );
  });
});
