/** Which member of a bond a frame takes, where that is not the packet's own addresses and ports. */
import { describe, expect, it } from "vitest";
import { bondHash } from "../../src/simulate/bond-hash.ts";
import type { Frame, IpPacket } from "../../src/wire/index.ts";
import { packet, udp } from "../kernel/packets.ts";

const ASKED = packet("10.31.1.10", "10.31.1.100", udp(41011, 5000));

function frame(ip: IpPacket): Frame {
  return {
    destination: 0x02_00_00_00_00_01n,
    source: 0x02_00_00_00_00_02n,
    tags: [],
    payload: { kind: "ip", packet: ip },
  };
}

function errorAbout(quoted: IpPacket, from: string): IpPacket {
  const content = { kind: "error", quoted } as const;
  return packet(from, "10.31.1.10", { kind: "icmp", type: 3, code: 3, content });
}

describe("the hash of an ICMP error", () => {
  it("is that of the packet it is about, whoever sends it (link seed 38, layer3+4)", () => {
    for (const from of ["10.31.1.100", "10.31.1.1"]) {
      expect(bondHash("layer3+4", frame(errorAbout(ASKED, from)))).toBe(bondHash("layer3+4", frame(ASKED)));
    }
    const other = packet("10.31.1.10", "10.31.1.100", udp(41013, 5000));
    expect(bondHash("layer3+4", frame(errorAbout(other, "10.31.1.100")))).not.toBe(bondHash("layer3+4", frame(ASKED)));
  });

  it("counts no port of a quoted query, and none of a packet quoted in part", () => {
    const query = packet("10.31.1.10", "10.31.1.100", {
      kind: "icmp",
      type: 8,
      code: 0,
      content: { kind: "echo", identifier: 7, sequence: 1, data: new Uint8Array() },
    });
    const plain = bondHash("layer3+4", frame(errorAbout(query, "10.31.1.100")));
    expect(plain).not.toBe(bondHash("layer3+4", frame(query)));
    const cut = packet("10.31.1.100", "10.31.1.10", {
      kind: "icmp",
      type: 3,
      code: 3,
      content: { kind: "error", quoted: new Uint8Array(28) },
    });
    expect(bondHash("layer3+4", frame(cut))).toBe(plain);
  });
});

describe("the hash of a frame with two tags", () => {
  it("is of layer 2 with the type of the second tag, whatever the policy (link seed 3141)", () => {
    const tag = { tpid: 0x8100, priority: 0, dropEligible: false, vlan: 10 };
    const once = { ...frame(ASKED), tags: [tag] };
    const twice = { ...frame(ASKED), tags: [tag, tag] };
    for (const policy of ["layer2", "layer2+3", "layer3+4"] as const) expect(bondHash(policy, twice)).toBe(3 ^ 0x8100);
    expect(bondHash("layer2", once)).toBe(3 ^ 0x0800);
    expect(bondHash("layer2", once, [tag])).toBe(3 ^ 0x8100);
    expect(bondHash("layer3+4", once)).toBe(bondHash("layer3+4", frame(ASKED)));
  });
});
