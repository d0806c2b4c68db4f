/** Laws of the codecs: round trip, truncation at every length, bytes of any kind, lengths without writing. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  describeFrame,
  emitArp,
  emitBpdu,
  emitDhcp,
  emitFrame,
  emitIp,
  emitLacpdu,
  emitNeighbour,
  fragmentPacket,
  frameLength,
  headersLength,
  type IpPacket,
  internetChecksum,
  isMalformed,
  joinFragments,
  lengthOfIp,
  type Malformed,
  onesComplementSum,
  parseArp,
  parseBpdu,
  parseDhcp,
  parseEthernet,
  parseFrame,
  parseIcmp,
  parseIcmpv6,
  parseIp,
  parseIpv4,
  parseIpv6,
  parseLacpdu,
  parseNeighbour,
  parseTcp,
  parseUdp,
  updateChecksum,
} from "../../src/wire/index.ts";
import { ip } from "../wire/notation.ts";
import * as values from "./wire-values.ts";

/** A law over random values; what the check returns does not matter. */
function holds<T>(values: fc.Arbitrary<T>, check: (value: T) => void, numRuns = 100): void {
  fc.assert(
    fc.property(values, (value) => {
      check(value);
    }),
    { numRuns },
  );
}

/** Every parse of shortened bytes is a refusal, and never throws. */
function refusesEveryShorter<T extends object>(bytes: Uint8Array, parse: (bytes: Uint8Array) => T | Malformed): void {
  for (let length = 0; length < bytes.length; length++) {
    const found = parse(bytes.slice(0, length));
    if (!isMalformed(found)) expect.fail(`${length} of ${bytes.length} bytes were accepted`);
  }
}

describe("round trip", () => {
  it("of ARP, LACP, spanning tree, DHCP and neighbour discovery is identity", () => {
    holds(values.arp, (value) => expect(parseArp(emitArp(value))).toEqual(value));
    holds(values.lacpdu, (value) => expect(parseLacpdu(emitLacpdu(value))).toEqual(value));
    holds(values.bpdu, (value) => expect(parseBpdu(emitBpdu(value))).toEqual(value));
    holds(values.dhcp, (value) => expect(parseDhcp(emitDhcp(value))).toEqual(value));
    holds(values.neighbour, (value) => expect(parseNeighbour(emitNeighbour(value))).toEqual(value));
  });

  it("of an IP packet is identity, unknown protocols, types, options and extension headers included", () => {
    holds(values.packet, (value) => expect(parseIp(emitIp(value))).toEqual(value), 600);
  });

  it("of a frame is identity, unknown EtherTypes and LLC included", () => {
    holds(values.frame, (value) => expect(parseFrame(emitFrame(value))).toEqual(value), 600);
  });

  it("of bytes that were accepted is stable: what was written is read to the same value", () => {
    fc.assert(
      fc.property(values.frame, fc.nat(), fc.nat(255), (value, at, byte) => {
        const bytes = emitFrame(value);
        bytes[at % bytes.length] = byte;
        const read = parseFrame(bytes);
        if (!isMalformed(read)) expect(parseFrame(emitFrame(read))).toEqual(read);
      }),
      { numRuns: 600 },
    );
  });
});

describe("truncation at every length", () => {
  it("is refused by each protocol whose end can be told", () => {
    holds(values.arp, (value) => refusesEveryShorter(emitArp(value), parseArp));
    holds(values.lacpdu, (value) => refusesEveryShorter(emitLacpdu(value), parseLacpdu));
    holds(values.bpdu, (value) => refusesEveryShorter(emitBpdu(value), parseBpdu));
    holds(values.packet, (value) => refusesEveryShorter(emitIp(value), parseIp));
  });

  it("of a DHCP message is refused up to its end mark", () => {
    fc.assert(
      fc.property(values.dhcp, (value) => {
        const bytes = emitDhcp({
          ...value,
          options: [...value.options, { code: 254, bytes: new Uint8Array(60).fill(1) }],
        });
        refusesEveryShorter(bytes, parseDhcp);
      }),
      { numRuns: 40 },
    );
  });

  it("of a frame is refused, but for what lies behind an unknown EtherType and for padding", () => {
    fc.assert(
      fc.property(values.frame, (value) => {
        const bytes = emitFrame(value);
        for (let length = 0; length < bytes.length; length++) {
          const read = parseFrame(bytes.slice(0, length));
          if (isMalformed(read)) continue;
          if (value.payload.kind === "other") expect(read.payload.kind).toBe("other");
          else expect(read).toEqual(value);
        }
      }),
    );
  });
});

describe("bytes of any kind", () => {
  const four = { source: ip("192.0.2.1"), destination: ip("192.0.2.2") };
  const six = { source: ip("::1"), destination: ip("::2") };
  const parsers: readonly ((bytes: Uint8Array) => object)[] = [
    parseArp,
    parseBpdu,
    parseDhcp,
    parseEthernet,
    parseFrame,
    parseIcmp,
    parseIp,
    parseIpv4,
    parseIpv6,
    parseLacpdu,
    (bytes) => parseIcmpv6(bytes, six),
    (bytes) => parseTcp(bytes, four),
    (bytes) => parseUdp(bytes, six),
    (bytes) => parseNeighbour({ type: 133 + ((bytes[0] ?? 0) & 3), code: 0, bytes }),
  ];

  it("never make a parser throw", () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 400 }), (bytes) => {
        for (const parse of parsers) expect(parse(bytes)).toBeTypeOf("object");
      }),
      { numRuns: 500 },
    );
  });

  it("inside right headers and checksums are refused or read stably, quotations included", () => {
    const body = fc.oneof(fc.uint8Array({ maxLength: 80 }), values.packet.map(emitIp));
    const type = fc.constantFrom(3, 5, 8, 11, 12, 1, 2, 128, 133, 134, 135, 136);
    fc.assert(
      fc.property(values.packet, type, fc.nat(4), body, fc.nat(), fc.nat(255), (outer, kind, code, about, at, byte) => {
        const bytes = Uint8Array.of(0, 0, 0, 0, ...about);
        bytes[at % bytes.length] = byte;
        const whole = { moreFragments: false, fragmentOffset: 0 };
        const content = { kind: "other", bytes } as const;
        const written = emitIp({ ...outer, ...whole, body: { kind: "icmp", type: kind, code, content } });
        const read = parseIp(written);
        if (!isMalformed(read)) expect(parseIp(emitIp(read))).toEqual(read);
      }),
      { numRuns: 500 },
    );
  });

  it("are not written to by a parser, and what it returns does not change with them", () => {
    fc.assert(
      fc.property(values.frame, (value) => {
        const bytes = emitFrame(value);
        const read = parseFrame(bytes);
        expect(bytes).toEqual(emitFrame(value));
        bytes.fill(0xff);
        expect(read).toEqual(value);
      }),
    );
  });
});

describe("lengths", () => {
  it("counted without writing equal the bytes written", () => {
    holds(values.packet, (value) => expect(lengthOfIp(value)).toBe(emitIp(value).length));
    holds(values.frame, (value) => expect(frameLength(value)).toBe(emitFrame(value).length));
  });
});

describe("words", () => {
  it("are one line without control characters for every frame", () => {
    holds(values.frame, (value) => expect(describeFrame(value)).toMatch(/^[ -~]+$/));
  });
});

describe("fragments", () => {
  it("fit, and joined in any order they are the packet again", () => {
    fc.assert(
      fc.property(values.whole, fc.integer({ min: 200, max: 400 }), fc.boolean(), (value, mtu, backwards) => {
        const pieces = fragmentPacket(value, mtu);
        for (const piece of pieces) expect(emitIp(piece).length).toBeLessThanOrEqual(mtu);
        if (pieces.length > 1) expect(joinFragments(backwards ? [...pieces].reverse() : pieces)).toEqual(value);
      }),
    );
  });

  it("of fragments join too", () => {
    fc.assert(
      fc.property(values.whole, (value) => {
        const pieces = fragmentPacket(value, 400).flatMap((piece) => fragmentPacket(piece, 200));
        if (pieces.length > 1) expect(joinFragments(pieces)).toEqual(value);
      }),
    );
  });
});

describe("the checksum", () => {
  const words = fc.uint8Array({ minLength: 2, maxLength: 64 }).filter((bytes) => bytes.length % 2 === 0);

  it("put into the bytes makes their checksum zero", () => {
    fc.assert(
      fc.property(words, (bytes) => {
        const sum = internetChecksum(bytes);
        expect(internetChecksum(Uint8Array.of(...bytes, sum >> 8, sum & 0xff))).toBe(0);
      }),
    );
  });

  it("does not depend on byte order: swapped bytes give the swapped sum (RFC 1071 section 2)", () => {
    fc.assert(
      fc.property(words, (bytes) => {
        const swapped = bytes.map((_, at) => bytes[at ^ 1] ?? 0);
        const sum = onesComplementSum(bytes);
        expect(onesComplementSum(swapped)).toBe(((sum & 0xff) << 8) | (sum >> 8));
      }),
    );
  });

  it("updated for a changed word is the one computed anew, while some bit is set (RFC 1624 section 3)", () => {
    fc.assert(
      fc.property(words, fc.nat(0xffff), (bytes, word) => {
        const changed = Uint8Array.of(word >> 8, word & 0xff, ...bytes.subarray(2));
        if (onesComplementSum(bytes) === 0 || onesComplementSum(changed) === 0) return;
        const old = ((bytes[0] ?? 0) << 8) | (bytes[1] ?? 0);
        expect(updateChecksum(internetChecksum(bytes), old, word)).toBe(internetChecksum(changed));
      }),
    );
  });
});

/** The generators reach what they promise: a law over values that never occur would prove nothing. */
describe("the random values", () => {
  const sample: readonly IpPacket[] = fc.sample(values.packet, { numRuns: 400, seed: 7 });

  it.each<readonly [string, (packet: IpPacket) => boolean]>([
    ["DHCP", ({ body }) => body.kind === "udp" && body.data.kind === "dhcp"],
    [
      "errors with a packet",
      ({ body }) => body.kind === "icmp" && body.content.kind === "error" && "source" in body.content.quoted,
    ],
    [
      "errors with bytes",
      ({ body }) => body.kind === "icmp" && body.content.kind === "error" && body.content.quoted instanceof Uint8Array,
    ],
    ["IPv6 fragments", ({ source, moreFragments }) => source.family === 6 && moreFragments],
    ["extension headers", ({ extensions }) => (extensions?.length ?? 0) > 1],
    ["IPv4 options", (packet) => packet.source.family === 4 && headersLength(packet) > 20],
    ["neighbour discovery", ({ body }) => body.kind === "neighbour"],
  ])("include %s", (_, holds) => {
    expect(sample.filter(holds).length).toBeGreaterThan(5);
  });
});
