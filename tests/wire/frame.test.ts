import { describe, expect, it } from "vitest";
import {
  describeFrame,
  emitEthernet,
  emitFrame,
  emitIp,
  type Frame,
  frameLength,
  parseFrame,
} from "../../src/wire/index.ts";
import { frame, hex, LAPTOP, packet, ROUTER, segment, udp } from "./notation.ts";

const VLAN_40 = { tpid: 0x8100, priority: 0, dropEligible: false, vlan: 40 };
const PACKET = packet("10.71.40.7", "10.71.40.1", udp(5000, 53, hex("01 02")));

function carrying(etherType: number, payload: Uint8Array): Uint8Array {
  return emitEthernet({ destination: ROUTER, source: LAPTOP, tags: [], etherType, payload });
}

describe("a frame", () => {
  it("loses padding behind an IP packet", () => {
    const sent = frame({ kind: "ip", packet: PACKET });
    expect(emitFrame(sent).length).toBe(60);
    expect(parseFrame(emitFrame(sent))).toEqual(sent);
  });

  it.each<readonly [string, Frame]>([
    ["an unknown EtherType", frame({ kind: "other", etherType: 0x88b5, bytes: hex("01*46") })],
    ["an unknown protocol", frame({ kind: "ip", packet: { ...PACKET, body: raw(253) } })],
    ["TCP", frame({ kind: "ip", packet: { ...PACKET, body: { kind: "tcp", ...segment() } } })],
    ["an LLC frame", frame({ kind: "llc", bytes: hex("aa aa 03 00 00 0c 20 00") })],
    ["two tags", frame({ kind: "ip", packet: PACKET }, { tags: [{ ...VLAN_40, tpid: 0x88a8 }, VLAN_40] })],
  ])("keeps %s", (_, sent) => {
    expect(parseFrame(emitFrame(sent))).toEqual(sent);
    expect(frameLength(sent)).toBe(emitFrame(sent).length);
  });

  it("with ARP of another space keeps its bytes", () => {
    const bytes = hex("00 06 08 00 06 04 00*40");
    expect(parseFrame(carrying(0x0806, bytes))).toEqual(frame({ kind: "other", etherType: 0x0806, bytes }));
  });

  it("whose packet is of the family its EtherType does not name is refused", () => {
    expect(parseFrame(carrying(0x86dd, emitIp(PACKET)))).toMatchObject({ malformed: "value" });
  });

  it("that holds no packet where it announces one is refused", () => {
    expect(parseFrame(carrying(0x0800, hex("")))).toMatchObject({ malformed: "value", protocol: "IPv4" });
  });

  it("has no place for an EtherType that is a length", () => {
    expect(() => emitFrame(frame({ kind: "other", etherType: 46, bytes: hex("") }))).toThrow(RangeError);
  });
});

describe("a frame in words", () => {
  it.each<readonly [Frame, string]>([
    [
      frame({ kind: "ip", packet: PACKET }, { tags: [VLAN_40] }),
      "VLAN 40: 10.71.40.7 to 10.71.40.1: UDP from port 5000 to port 53, 2 bytes",
    ],
    [frame({ kind: "ip", packet: { ...PACKET, body: raw(47) } }), "10.71.40.7 to 10.71.40.1: gre, 8 bytes"],
    [frame({ kind: "ip", packet: { ...PACKET, body: raw(253) } }), "10.71.40.7 to 10.71.40.1: protocol 253, 8 bytes"],
    [
      frame({ kind: "ip", packet: { ...PACKET, moreFragments: true, body: raw(17) } }),
      "fragment of udp, 8 bytes from 0, more follow",
    ],
    [
      frame({ kind: "ip", packet: { ...PACKET, fragmentOffset: 4, body: raw(17) } }),
      "fragment of udp, 8 bytes from 32, the last",
    ],
    [frame({ kind: "llc", bytes: hex("aa aa 03") }), "LLC, 3 bytes"],
    [frame({ kind: "other", etherType: 0x800, bytes: hex("") }), "EtherType 0x0800, 0 bytes"],
  ])("%#: says what it carries", (sent, words) => {
    expect(describeFrame(sent)).toContain(`02:00:00:00:0a:01 to 02:00:00:00:0b:02`);
    expect(describeFrame(sent)).toContain(words);
  });
});

function raw(protocol: number) {
  return { kind: "raw", protocol, bytes: hex("01*8") } as const;
}
