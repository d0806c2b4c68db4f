/** Random values of every protocol, within what has a place on the wire; `fast-check` shrinks them. */
import fc from "fast-check";
import { type Address, type Hardware, prefixOf } from "../../src/address/index.ts";
import type {
  ArpPacket,
  Bpdu,
  DhcpMessage,
  ExtensionHeader,
  Frame,
  IcmpContent,
  IpBody,
  IpPacket,
  Lacpdu,
  NeighbourMessage,
  NeighbourOption,
  Payload,
  Tag,
} from "../../src/wire/index.ts";

const byte = fc.nat(0xff);
const word = fc.nat(0xffff);
const long = fc.nat(0xffffffff);

function bytes(most: number, unit = 1, more = 0): fc.Arbitrary<Uint8Array> {
  const counts = fc.nat(Math.floor(most / unit));
  return counts.chain((count) => {
    const length = count * unit + more;
    return fc.uint8Array({ minLength: length, maxLength: length });
  });
}

const address4: fc.Arbitrary<Address> = long.map((value) => ({ family: 4, value: BigInt(value) }));
const address6: fc.Arbitrary<Address> = fc
  .bigInt({ min: 0n, max: 2n ** 128n - 1n })
  .map((value) => ({ family: 6, value }));
const hardware: fc.Arbitrary<Hardware> = fc.bigInt({ min: 0n, max: 2n ** 48n - 1n });

export const arp: fc.Arbitrary<ArpPacket> = fc.record({
  operation: word,
  senderHardware: hardware,
  senderAddress: address4,
  targetHardware: hardware,
  targetAddress: address4,
});

const lacpPort = fc.record({
  systemPriority: word,
  system: hardware,
  key: word,
  portPriority: word,
  port: word,
  state: byte,
});

export const lacpdu: fc.Arbitrary<Lacpdu> = fc.record({
  version: byte,
  actor: lacpPort,
  partner: lacpPort,
  collectorMaxDelay: word,
});

const bridge = fc.record({ priority: word, hardware });

export const bpdu: fc.Arbitrary<Bpdu> = fc.oneof(
  fc.constant<Bpdu>({ kind: "topology-change" }),
  fc.record({
    kind: fc.constantFrom("config" as const, "rapid" as const),
    flags: byte,
    root: bridge,
    rootPathCost: long,
    bridge,
    port: word,
    messageAge: word,
    maxAge: word,
    helloTime: word,
    forwardDelay: word,
  }),
);

/** Bytes that do not end in zero: text fields of DHCP are padded with zeros. */
function text(most: number): fc.Arbitrary<Uint8Array> {
  return bytes(most - 1).map((start) => Uint8Array.of(...start, 1));
}

export const dhcp: fc.Arbitrary<DhcpMessage> = fc.record(
  {
    operation: byte,
    hops: byte,
    transaction: long,
    seconds: word,
    flags: word,
    clientAddress: address4,
    yourAddress: address4,
    nextServer: address4,
    relayAddress: address4,
    clientHardware: hardware,
    serverName: text(64),
    bootFile: text(128),
    options: fc.array(fc.record({ code: fc.integer({ min: 1, max: 254 }), bytes: bytes(255) }), { maxLength: 8 }),
  },
  {
    requiredKeys: [
      "operation",
      "hops",
      "transaction",
      "seconds",
      "flags",
      "clientAddress",
      "yourAddress",
      "nextServer",
      "relayAddress",
      "clientHardware",
      "options",
    ],
  },
);

/** Types without a name here, and the named ones with a length that is not theirs. */
const oddOption = fc.oneof(
  fc.record({
    kind: fc.constant("other" as const),
    type: fc.constantFrom(0, 4, 14, 24, 26, 255),
    bytes: bytes(40, 8, 6),
  }),
  fc.record({ kind: fc.constant("other" as const), type: fc.constantFrom(1, 2, 5), bytes: bytes(40, 8, 14) }),
);

const neighbourOption: fc.Arbitrary<NeighbourOption> = fc.oneof(
  fc.record({ kind: fc.constantFrom("source-link" as const, "target-link" as const), hardware }),
  fc.record({
    kind: fc.constant("prefix" as const),
    prefix: fc.tuple(address6, fc.nat(128)).map(([address, length]) => prefixOf(address, length)),
    onLink: fc.boolean(),
    autonomous: fc.boolean(),
    validSeconds: long,
    preferredSeconds: long,
  }),
  fc.record({ kind: fc.constant("mtu" as const), mtu: long }),
  fc.record({
    kind: fc.constant("resolvers" as const),
    lifetimeSeconds: long,
    addresses: fc.array(address6, { minLength: 1, maxLength: 3 }),
  }),
  oddOption,
);

const options = fc.array(neighbourOption, { maxLength: 4 });

export const neighbour: fc.Arbitrary<NeighbourMessage> = fc.oneof(
  fc.record({ kind: fc.constant("router-solicitation" as const), options }),
  fc.record({
    kind: fc.constant("router-advertisement" as const),
    hopLimit: byte,
    managed: fc.boolean(),
    other: fc.boolean(),
    preference: fc.nat(3),
    routerLifetimeSeconds: word,
    reachableMs: long,
    retransmitMs: long,
    options,
  }),
  fc.record({ kind: fc.constant("neighbour-solicitation" as const), target: address6, options }),
  fc.record({
    kind: fc.constant("neighbour-advertisement" as const),
    target: address6,
    router: fc.boolean(),
    solicited: fc.boolean(),
    override: fc.boolean(),
    options,
  }),
);

const udp = fc.record({
  kind: fc.constant("udp" as const),
  sourcePort: fc.integer({ min: 69, max: 0xffff }),
  destinationPort: word,
  data: fc.record({ kind: fc.constant("bytes" as const), bytes: bytes(60) }),
});

const leased = fc.record({
  kind: fc.constant("udp" as const),
  sourcePort: fc.constantFrom(67, 68),
  destinationPort: fc.constantFrom(67, 68),
  data: fc.record({ kind: fc.constant("dhcp" as const), message: dhcp }),
});

const tcp = fc.record(
  {
    kind: fc.constant("tcp" as const),
    sourcePort: word,
    destinationPort: word,
    flags: fc.nat(0xfff),
    sequence: long,
    acknowledgement: long,
    window: word,
    urgentPointer: fc.integer({ min: 1, max: 0xffff }),
    options: bytes(40, 4),
    data: bytes(60),
  },
  {
    requiredKeys: [
      "kind",
      "sourcePort",
      "destinationPort",
      "flags",
      "sequence",
      "acknowledgement",
      "window",
      "options",
      "data",
    ],
  },
);

const echo = fc.record({ kind: fc.constant("echo" as const), identifier: word, sequence: word, data: bytes(60) });
const opaque = fc.record({ kind: fc.constant("other" as const), bytes: bytes(60) });

function icmp(types: readonly number[], code: fc.Arbitrary<number>, content: fc.Arbitrary<IcmpContent>) {
  return fc.record({ kind: fc.constant("icmp" as const), type: fc.constantFrom(...types), code, content });
}

function error(quoted: fc.Arbitrary<IpPacket>, field: object = {}): fc.Arbitrary<IcmpContent> {
  const about = fc.oneof(quoted, bytes(19));
  return about.map((each) => ({ kind: "error", quoted: each, ...field }));
}

const raw4 = fc.record({
  kind: fc.constant("raw" as const),
  protocol: fc.constantFrom(2, 47, 58, 253),
  bytes: bytes(60),
});
const raw6 = fc.record({
  kind: fc.constant("raw" as const),
  protocol: fc.constantFrom(1, 2, 47, 59, 253),
  bytes: bytes(60),
});
const plain4: fc.Arbitrary<IpBody> = fc.oneof(
  udp,
  leased,
  tcp,
  raw4,
  icmp([0, 8], byte, echo),
  icmp([9, 13, 253], byte, opaque),
);
const plain6: fc.Arbitrary<IpBody> = fc.oneof(
  udp,
  tcp,
  raw6,
  icmp([128, 129], byte, echo),
  icmp([100, 130, 143, 255], byte, opaque),
  fc.record({ kind: fc.constant("neighbour" as const), message: neighbour }),
);

const extension: fc.Arbitrary<ExtensionHeader> = fc.oneof(
  fc.record({ header: fc.constantFrom(0, 43, 60), bytes: bytes(16, 8, 6) }),
  // The fragment header of a whole packet: offset and "more" are zero.
  long.map((id) => ({
    header: 44,
    bytes: Uint8Array.of(0, 0, id >>> 24, (id >>> 16) & 255, (id >>> 8) & 255, id & 255),
  })),
);

function packet4(body: fc.Arbitrary<IpBody>): fc.Arbitrary<IpPacket> {
  const fixed = { source: address4, destination: address4, hopLimit: byte, identification: word, trafficClass: byte };
  return fc.record(
    {
      ...fixed,
      dontFragment: fc.boolean(),
      moreFragments: fc.constant(false),
      fragmentOffset: fc.constant(0),
      options: bytes(36, 4, 4),
      body,
    },
    { requiredKeys: [...FIXED, "body"] },
  );
}

function packet6(body: fc.Arbitrary<IpBody>): fc.Arbitrary<IpPacket> {
  return fc.record(
    {
      source: address6,
      destination: address6,
      hopLimit: byte,
      identification: fc.constant(0),
      trafficClass: byte,
      dontFragment: fc.constant(true),
      moreFragments: fc.constant(false),
      fragmentOffset: fc.constant(0),
      flowLabel: fc.integer({ min: 1, max: 0xfffff }),
      extensions: fc.array(extension, { minLength: 1, maxLength: 3 }),
      body,
    },
    { requiredKeys: [...FIXED, "body"] },
  );
}

const FIXED = [
  "source",
  "destination",
  "hopLimit",
  "identification",
  "trafficClass",
  "dontFragment",
  "moreFragments",
  "fragmentOffset",
] as const;

/** An error about a short packet, so that the quotation is whole. */
const short4 = packet4(fc.oneof(udp, raw4));
const short6 = packet6(fc.oneof(udp, raw6));
const errors4: fc.Arbitrary<IpBody> = fc.oneof(
  icmp([3], fc.constantFrom(0, 1, 2, 3, 13), error(short4)),
  icmp([3], fc.constant(4), error(short4, { mtu: 1400, rest: 0x10000 })),
  icmp([4, 5, 11, 12], byte, error(short4, { rest: 0xc0000201 })),
);
const errors6: fc.Arbitrary<IpBody> = fc.oneof(
  icmp([1, 3, 4], byte, error(short6)),
  icmp([2], byte, error(short6, { mtu: 0xffffffff })),
);

const piece = fc.record({ kind: fc.constant("raw" as const), protocol: fc.constantFrom(6, 17, 58), bytes: bytes(60) });
const marks = fc
  .record({ identification: word, moreFragments: fc.boolean(), fragmentOffset: fc.nat(0x1fff) })
  .filter(({ moreFragments, fragmentOffset }) => moreFragments || fragmentOffset > 0);

function fragmentOf(whole: fc.Arbitrary<IpPacket>): fc.Arbitrary<IpPacket> {
  return fc.tuple(whole, marks).map(([packet, fields]) => ({ ...packet, ...fields }));
}

/** A packet of either family: whole, an error, or a fragment. */
export const packet: fc.Arbitrary<IpPacket> = fc.oneof(
  packet4(plain4),
  packet6(plain6),
  packet4(errors4),
  packet6(errors6),
  fragmentOf(packet4(piece)),
  fragmentOf(packet6(piece)),
);

/** A whole packet that may be cut. */
export const whole: fc.Arbitrary<IpPacket> = fc.oneof(packet4(plain4), packet6(plain6));

const tag: fc.Arbitrary<Tag> = fc.record({
  tpid: fc.constantFrom(0x8100, 0x88a8),
  priority: fc.nat(7),
  dropEligible: fc.boolean(),
  vlan: fc.nat(0xfff),
});

/** Payloads that nothing here takes apart; long enough that padding adds nothing to them. */
const unknown: fc.Arbitrary<Payload> = fc.oneof(
  fc.record({
    kind: fc.constant("other" as const),
    etherType: fc.integer({ min: 0x8a00, max: 0xffff }),
    bytes: bytes(40, 1, 46),
  }),
  bytes(60).map((rest) => ({
    kind: "other" as const,
    etherType: 0x8809,
    bytes: Uint8Array.of(2, ...rest, ...new Uint8Array(46)),
  })),
  bytes(60).map((rest) => ({ kind: "llc" as const, bytes: Uint8Array.of(0xaa, 0xaa, 0x03, ...rest) })),
);

/** A frame with any payload and up to three tags. */
export const frame: fc.Arbitrary<Frame> = fc.record({
  destination: hardware,
  source: hardware,
  tags: fc.array(tag, { maxLength: 3 }),
  payload: fc.oneof(
    arp.map((each): Payload => ({ kind: "arp", arp: each })),
    lacpdu.map((each): Payload => ({ kind: "lacp", lacpdu: each })),
    bpdu.map((each): Payload => ({ kind: "bpdu", bpdu: each })),
    unknown,
    { arbitrary: packet.map((each): Payload => ({ kind: "ip", packet: each })), weight: 6 },
    fc.tuple(word, packet).map(([session, each]): Payload => ({ kind: "session", session, packet: each })),
  ),
});
