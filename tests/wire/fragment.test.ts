import { describe, expect, it } from "vitest";
import { emitIp, fragmentPacket, type IpPacket, joinFragments, lengthOfIp } from "../../src/wire/index.ts";
import { hex, packet, udp } from "./notation.ts";

const PATTERN = Uint8Array.from({ length: 3000 }, (_, index) => index % 251);

function long(more: Partial<IpPacket> = {}): IpPacket {
  return packet("192.0.2.1", "192.0.2.2", udp(1, 2, PATTERN), { dontFragment: false, identification: 111, ...more });
}

function shapes(pieces: readonly IpPacket[]): readonly (readonly [length: number, offset: number, more: boolean])[] {
  return pieces.map((piece) => [emitIp(piece).length, piece.fragmentOffset, piece.moreFragments]);
}

describe("cutting a packet", () => {
  it("that fits leaves it alone", () => {
    expect(fragmentPacket(long(), 3028)).toEqual([long()]);
  });

  it("makes pieces that fit, all but the last a multiple of 8 bytes", () => {
    expect(shapes(fragmentPacket(long(), 1500))).toEqual([
      [1500, 0, true],
      [1500, 185, true],
      [68, 370, false],
    ]);
  });

  it("of IPv6 leaves room for the fragment header", () => {
    const whole = packet("2001:db8::1", "2001:db8::2", udp(1, 2, PATTERN));
    expect(shapes(fragmentPacket(whole, 1280))).toEqual([
      [1280, 0, true],
      [1280, 154, true],
      [592, 308, false],
    ]);
  });

  it("repeats only the options that ask for it (RFC 791 section 3.1)", () => {
    // Record route (7) stays with the first piece, router alert (148) goes with each; then a pad and the end.
    const [first, second] = fragmentPacket(long({ options: hex("07 03 04 94 04 00 00 00") }), 1500);
    expect([first?.options, second?.options]).toEqual([hex("07 03 04 94 04 00 00 00"), hex("94 04 00 00")]);
    expect(fragmentPacket(long({ options: hex("01 07 03 04") }), 1500)[1]?.options).toBeUndefined();
  });

  it("again keeps places in the whole", () => {
    const [first] = fragmentPacket(long(), 1500);
    const again = fragmentPacket(first ?? long(), 996);
    expect(shapes(again)).toEqual([
      [996, 0, true],
      [524, 122, true],
    ]);
  });

  it("to fewer bytes than a header and one block is our fault", () => {
    expect(() => fragmentPacket(long(), 27)).toThrow(RangeError);
  });
});

describe("joining pieces", () => {
  const pieces = fragmentPacket(long(), 1500);

  it("gives the packet back, in whatever order they come", () => {
    expect(joinFragments(pieces)).toEqual(long());
    expect(joinFragments([...pieces].reverse())).toEqual(long());
  });

  it("gives an IPv6 packet back", () => {
    const whole = packet("2001:db8::1", "2001:db8::2", udp(1, 2, PATTERN));
    const cut = fragmentPacket({ ...whole, identification: 77 }, 1280);
    expect(cut[1]?.identification).toBe(77);
    expect(joinFragments(cut)).toEqual(whole);
  });

  it.each([0, 1, 2])("waits while piece %d is missing", (missing) => {
    expect(joinFragments(pieces.filter((_, index) => index !== missing))).toBeUndefined();
  });

  it("waits while there is none", () => {
    expect(joinFragments([])).toBeUndefined();
  });

  it("refuses what they make when it breaks a rule", () => {
    const [first, ...rest] = pieces;
    if (first?.body.kind !== "raw") throw new Error("a fragment has a raw body");
    const spoiled = { ...first, body: { ...first.body, bytes: first.body.bytes.map((byte) => byte ^ 1) } };
    expect(joinFragments([spoiled, ...rest])).toMatchObject({ protocol: "UDP" });
  });

  it("counts the length of a piece like any packet's", () => {
    expect(pieces.map(lengthOfIp)).toEqual([1500, 1500, 68]);
  });
});
