/** Session frames of PPPoE (RFC 2516 section 4: header; section 6: session stage), bare and as a dissector reads them. */
import { describe, expect, it } from "vitest";
import {
  describeFrame,
  emitCapture,
  emitFrame,
  emitSession,
  type Frame,
  frameLength,
  packetIn,
  parseFrame,
  parseSession,
} from "../../src/wire/index.ts";
import { dissect, troubles } from "../support/dissect.ts";
import { needs } from "../support/needs.ts";
import { frame, hex, packet, toHex, udp } from "./notation.ts";

const PPP = { session: 0x1234, protocol: 0x0021, payload: hex("aa bb cc") };

describe("a session frame", () => {
  it("has version 1, type 1, code 0, and counts the PPP protocol in its length", () => {
    expect(toHex(emitSession(PPP))).toBe("11 00 12 34 00 05 00 21 aa bb cc");
    expect(parseSession(hex("11 00 12 34 00 05 00 21 aa bb cc 00*9"))).toEqual(PPP);
  });

  it("of another stage or version is not supported; one that is cut short is refused", () => {
    expect(parseSession(hex("11 a7 12 34 00 05 00 21 aa bb cc"))).toMatchObject({ malformed: "unsupported" });
    expect(parseSession(hex("12 00 12 34 00 05 00 21 aa bb cc"))).toMatchObject({ malformed: "unsupported" });
    expect(parseSession(hex("11 00 12 34 00 01 00 21"))).toMatchObject({ malformed: "length" });
    for (let length = 0; length < 11; length++)
      expect(parseSession(emitSession(PPP).slice(0, length))).toMatchObject({ malformed: "truncated" });
  });

  it("whose packet is of the other version than its protocol says is refused", () => {
    const bytes = emitFrame(session("192.0.2.1", "192.0.2.2"));
    bytes[21] = 0x57;
    expect(parseFrame(bytes)).toMatchObject({ malformed: "value", protocol: "PPPoE" });
  });

  it("of another PPP protocol, such as LCP, stays bytes", () => {
    const lcp = emitSession({ session: 1, protocol: 0xc021, payload: new Uint8Array(46) });
    const bytes = emitFrame(frame({ kind: "other", etherType: 0x8864, bytes: lcp }));
    expect(parseFrame(bytes)).toMatchObject({ payload: { kind: "other", etherType: 0x8864 } });
  });

  it("carries a packet of 1492 bytes where a bare frame carries 1500 (RFC 2516 section 7)", () => {
    const inside = packet("192.0.2.1", "192.0.2.2", udp(40000, 40001, new Uint8Array(1492 - 28)));
    const bare = packet("192.0.2.1", "192.0.2.2", udp(40000, 40001, new Uint8Array(1500 - 28)));
    expect(frameLength(frame({ kind: "session", session: 1, packet: inside }))).toBe(
      frameLength(frame({ kind: "ip", packet: bare })),
    );
  });

  it("is told with its session and its packet", () => {
    const told = session("192.0.2.1", "192.0.2.2");
    expect(describeFrame(told)).toContain("PPPoE session 1: ");
    expect(packetIn(told)?.source).toEqual(told.payload.kind === "session" ? told.payload.packet.source : undefined);
  });
});

function session(source: string, destination: string): Frame {
  return frame({
    kind: "session",
    session: 1,
    packet: packet(source, destination, udp(40000, 40001, new Uint8Array(9))),
  });
}

needs("tshark").it("reads well to a dissector", () => {
  const frames = [session("192.0.2.1", "192.0.2.2"), session("2001:db8::1", "2001:db8::2")];
  const tagged = {
    ...session("192.0.2.1", "192.0.2.2"),
    tags: [{ tpid: 0x8100, priority: 0, dropEligible: false, vlan: 7 }],
  };
  const file = emitCapture({
    interfaces: ["wan"],
    frames: [...frames, tagged].map((each, index) => ({ interface: 0, atNs: BigInt(index), bytes: emitFrame(each) })),
  });
  expect(troubles(file)).toEqual([]);
  const fields = ["pppoe.session_id", "ppp.protocol", "ip.dst", "ipv6.dst", "vlan.id"];
  expect(dissect(file, fields).map((found) => fields.map((field) => found[field]))).toEqual([
    ["0x0001", "0x0021", "192.0.2.2", "", ""],
    ["0x0001", "0x0057", "", "2001:db8::2", ""],
    ["0x0001", "0x0021", "192.0.2.2", "", "7"],
  ]);
});
