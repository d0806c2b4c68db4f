import { describe, expect, it } from "vitest";
import {
  describeLacpdu,
  emitFrame,
  emitLacpdu,
  type Lacpdu,
  type LacpPort,
  parseFrame,
  parseLacpdu,
} from "../../src/wire/index.ts";
import { frame, hex, LAPTOP, ROUTER } from "./notation.ts";

const ACTOR: LacpPort = { systemPriority: 1, system: LAPTOP, key: 2, portPriority: 0x8000, port: 3, state: 0x3d };
const NOBODY: LacpPort = { systemPriority: 0, system: 0n, key: 0, portPriority: 0, port: 0, state: 0x42 };
const LACPDU: Lacpdu = { version: 1, actor: ACTOR, partner: NOBODY, collectorMaxDelay: 5 };

// Layout from memory of IEEE 802.1AX; tests/wire/dissector.test.ts has an independent reader check it.
const WRITTEN = `01 01
  01 14 00 01 02 00 00 00 0a 01 00 02 80 00 00 03 3d 00*3
  02 14 00 00 00*6 00 00 00 00 00 00 42 00*3
  03 10 00 05 00*12
  00 00 00*50`;

describe("a LACPDU", () => {
  it("is 110 bytes: actor, partner, collector, terminator", () => {
    expect(emitLacpdu(LACPDU)).toEqual(hex(WRITTEN));
    expect(parseLacpdu(hex(WRITTEN))).toEqual(LACPDU);
  });

  it("of a later version survives", () => {
    const later = { ...LACPDU, version: 2 };
    expect(parseLacpdu(emitLacpdu(later))).toEqual(later);
  });

  it("whose parts have other types or lengths is refused", () => {
    expect(parseLacpdu(hex(WRITTEN.replace("02 14", "02 15")))).toMatchObject({ malformed: "value" });
    expect(parseLacpdu(hex(WRITTEN.replace("03 10", "04 10")))).toMatchObject({ malformed: "value" });
  });

  it("travels under the slow protocols; another of them stays bytes", () => {
    const sent = frame({ kind: "lacp", lacpdu: LACPDU });
    expect(parseFrame(emitFrame(sent))).toEqual(sent);
    const marker = frame({ kind: "other", etherType: 0x8809, bytes: hex("02 01 00*108") });
    expect(parseFrame(emitFrame(marker))).toEqual(marker);
  });

  it("in words names both ends and what they claim", () => {
    expect(describeLacpdu({ ...LACPDU, partner: { ...NOBODY, system: ROUTER } })).toBe(
      "LACP: actor 02:00:00:00:0a:01 port 3 key 2, active, aggregatable, in sync, collecting, distributing; " +
        "partner 02:00:00:00:0b:02 port 0 key 0, fast, defaulted",
    );
  });
});
