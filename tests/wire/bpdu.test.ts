import { describe, expect, it } from "vitest";
import {
  BPDU_TOPOLOGY_CHANGE,
  bpduLength,
  describeBpdu,
  emitBpdu,
  emitFrame,
  parseBpdu,
  parseFrame,
  type TreeBpdu,
} from "../../src/wire/index.ts";
import { frame, hex, LAPTOP, ROUTER } from "./notation.ts";

const RAPID: TreeBpdu = {
  kind: "rapid",
  flags: 0x7c,
  root: { priority: 0x1000, hardware: ROUTER },
  rootPathCost: 20000,
  bridge: { priority: 0x8000, hardware: LAPTOP },
  port: 0x8002,
  messageAge: 256,
  maxAge: 20 * 256,
  helloTime: 2 * 256,
  forwardDelay: 15 * 256,
};
const CONFIG: TreeBpdu = { ...RAPID, kind: "config", flags: 0 };

// Layout from memory of IEEE 802.1D; a kernel's configuration BPDU is in kernel-frames.ts, a dissector reads the rest.
const TREE = "10 00 02 00 00 00 0b 02 00 00 4e 20 80 00 02 00 00 00 0a 01 80 02 01 00 14 00 02 00 0f 00";

describe("a BPDU", () => {
  it.each([
    ["configuration", CONFIG, `42 42 03 00 00 00 00 00 ${TREE}`],
    ["rapid", RAPID, `42 42 03 00 00 02 02 7c ${TREE} 00`],
    ["topology change", { kind: "topology-change" } as const, "42 42 03 00 00 00 80"],
  ])("%s is written over LLC", (_, bpdu, bytes) => {
    expect(emitBpdu(bpdu)).toEqual(hex(bytes));
    expect(bpduLength(bpdu)).toBe(hex(bytes).length);
    expect(parseBpdu(hex(bytes))).toEqual(bpdu);
  });

  it("of several instances stays an LLC frame", () => {
    const several = frame({ kind: "llc", bytes: hex(`42 42 03 00 00 03 02 7c ${TREE} 00 00 40`) });
    expect(parseFrame(emitFrame(several))).toEqual(several);
  });

  it("travels tagged too", () => {
    const tags = [{ tpid: 0x8100, priority: 7, dropEligible: false, vlan: 10 }];
    const tagged = frame({ kind: "bpdu", bpdu: RAPID }, { tags });
    expect(parseFrame(emitFrame(tagged))).toEqual(tagged);
  });

  it("cut short is refused", () => {
    expect(parseBpdu(emitBpdu(RAPID).slice(0, -1))).toMatchObject({ malformed: "truncated" });
  });

  it("in words names root, cost and sender", () => {
    expect(describeBpdu({ ...CONFIG, flags: BPDU_TOPOLOGY_CHANGE })).toBe(
      "spanning tree: root 4096/02:00:00:00:0b:02 at cost 20000, by 32768/02:00:00:00:0a:01 port 2, topology change",
    );
    expect(describeBpdu({ kind: "topology-change" })).toBe("spanning tree: topology change");
  });
});
