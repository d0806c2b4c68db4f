import { describe, expect, it } from "vitest";
import { type Prefix, parsePrefix } from "../../src/address/index.ts";
import {
  describeIp,
  describeNeighbour,
  emitIp,
  emitNeighbour,
  isMalformed,
  lengthOfIp,
  linkAddress,
  type NeighbourMessage,
  type NeighbourOption,
  parseIp,
  parseNeighbour,
} from "../../src/wire/index.ts";
import { hex, ip, LAPTOP, packet, ROUTER, toHex } from "./notation.ts";

const CREW = parsePrefix("fd71:2c9e:5a04:30::/64")?.prefix ?? fail();

function fail(): Prefix {
  throw new Error("no prefix");
}

const ADVERTISEMENT: NeighbourMessage = {
  kind: "router-advertisement",
  hopLimit: 64,
  managed: true,
  other: false,
  preference: 3,
  routerLifetimeSeconds: 0,
  reachableMs: 30_000,
  retransmitMs: 1000,
  options: [
    { kind: "source-link", hardware: ROUTER },
    {
      kind: "prefix",
      prefix: CREW,
      onLink: true,
      autonomous: false,
      validSeconds: 0xffffffff,
      preferredSeconds: 604800,
    },
    { kind: "mtu", mtu: 1480 },
    { kind: "resolvers", lifetimeSeconds: 600, addresses: [ip("fd71::53"), ip("fd71::54")] },
  ],
};

const MESSAGES: readonly NeighbourMessage[] = [
  ADVERTISEMENT,
  { kind: "router-solicitation", options: [{ kind: "source-link", hardware: LAPTOP }] },
  { kind: "neighbour-solicitation", target: ip("fe80::1"), options: [] },
  {
    kind: "neighbour-advertisement",
    target: ip("fe80::1"),
    router: true,
    solicited: false,
    override: true,
    options: [{ kind: "target-link", hardware: ROUTER }],
  },
];

describe("a message of neighbour discovery", () => {
  it.each(MESSAGES.map((message) => [message.kind, message] as const))("%s keeps every field", (_, message) => {
    const sent = packet("fe80::1", "ff02::1", { kind: "neighbour", message }, { hopLimit: 255 });
    expect(parseIp(emitIp(sent))).toEqual(sent);
    expect(lengthOfIp(sent)).toBe(emitIp(sent).length);
  });

  it("with a code is plain ICMPv6", () => {
    const body = { kind: "icmp", type: 135, code: 1, content: { kind: "other", bytes: hex("00*20") } } as const;
    const odd = packet("fe80::1", "fe80::2", body);
    expect(parseIp(emitIp(odd))).toEqual(odd);
  });

  it("that is too short is refused", () => {
    expect(parseNeighbour({ type: 135, code: 0, bytes: hex("00*19") })).toMatchObject({ malformed: "truncated" });
  });
});

describe("options", () => {
  function read(options: string): readonly NeighbourOption[] | string {
    const message = parseNeighbour({ type: 133, code: 0, bytes: hex(`00*4 ${options}`) });
    return isMalformed(message) ? message.malformed : message.options;
  }

  it("lie one after the other, lengths in units of 8 bytes", () => {
    expect(toHex(emitNeighbour(ADVERTISEMENT).bytes.subarray(12))).toBe(
      [
        "01 01 02 00 00 00 0b 02",
        "03 04 40 80 ff ff ff ff 00 09 3a 80 00 00 00 00 fd 71 2c 9e 5a 04 00 30 00 00 00 00 00 00 00 00",
        "05 01 00 00 00 00 05 c8",
        "19 05 00 00 00 00 02 58 fd 71 00 00 00 00 00 00 00 00 00 00 00 00 00 53 fd 71 00 00 00 00 00 00 00 00 00 00 00 00 00 54",
      ].join(" "),
    );
  });

  it("without a name survive", () => {
    expect(read("0e 01 01 02 03 04 05 06")).toEqual([{ kind: "other", type: 14, bytes: hex("01 02 03 04 05 06") }]);
  });

  it("with a name but an unknown length survive unread", () => {
    expect(read("05 02 00*14")).toEqual([{ kind: "other", type: 5, bytes: hex("00*14") }]);
    expect(read("03 04 81 00*29")).toEqual([{ kind: "other", type: 3, bytes: hex("81 00*29") }]);
  });

  it("of length 0 are refused", () => {
    expect(read("01 00 00*6")).toBe("length");
  });

  it("that reach beyond the message are refused", () => {
    expect(read("01 02 00*6")).toBe("truncated");
    expect(read("01")).toBe("truncated");
  });

  it("of 7 bytes have no place", () => {
    const message: NeighbourMessage = {
      kind: "router-solicitation",
      options: [{ kind: "other", type: 14, bytes: hex("00*5") }],
    };
    expect(() => emitNeighbour(message)).toThrow(RangeError);
  });

  it("yield the hardware address of the kind asked for", () => {
    const options: NeighbourOption[] = [
      { kind: "target-link", hardware: ROUTER },
      { kind: "source-link", hardware: LAPTOP },
    ];
    expect([linkAddress(options, "source-link"), linkAddress(options, "target-link")]).toEqual([LAPTOP, ROUTER]);
    expect(linkAddress([], "source-link")).toBeUndefined();
  });
});

describe("a message in words", () => {
  it("tells a router's offer", () => {
    expect(describeNeighbour(ADVERTISEMENT)).toBe(
      "router advertises, not as default router, sender at 02:00:00:00:0b:02, prefix fd71:2c9e:5a04:30::/64, MTU 1480, resolvers fd71::53 fd71::54",
    );
  });

  it("tells who asks whom", () => {
    const message: NeighbourMessage = {
      kind: "neighbour-solicitation",
      target: ip("fe80::9"),
      options: [{ kind: "other", type: 14, bytes: hex("00*6") }],
    };
    expect(describeIp(packet("fe80::1", "ff02::1:ff00:9", { kind: "neighbour", message }))).toBe(
      "fe80::1 to ff02::1:ff00:9: asks where fe80::9 is, option 14",
    );
  });

  it("tells an answer and a search", () => {
    expect(MESSAGES.slice(1).map(describeNeighbour)).toEqual([
      "asks for routers, sender at 02:00:00:00:0a:01",
      "asks where fe80::1 is",
      "answers for fe80::1, target at 02:00:00:00:0b:02",
    ]);
  });
});
