/**
 * An independent reader of packets, Debian's `tshark`, reads a capture written here: nothing malformed, every checksum
 * right, and the fields are the ones that were meant.
 */
import { expect } from "vitest";
import { parsePrefix, prefixOf } from "../../src/address/index.ts";
import {
  addressOption,
  BPDU_ACKNOWLEDGMENT,
  BPDU_AGREEMENT,
  BPDU_FORWARDING,
  BPDU_LEARNING,
  BPDU_PROPOSAL,
  BPDU_ROLE_MASK,
  BPDU_TOPOLOGY_CHANGE,
  classlessRoutesOption,
  type DhcpOption,
  emitCapture,
  emitFrame,
  type Frame,
  fragmentPacket,
  type IpPacket,
  LACP_ACTIVITY,
  LACP_AGGREGATION,
  LACP_COLLECTING,
  LACP_DEFAULTED,
  LACP_DISTRIBUTING,
  LACP_EXPIRED,
  LACP_SYNCHRONIZATION,
  LACP_TIMEOUT,
  longestMessageOption,
  messageTypeOption,
  type NeighbourMessage,
  type Payload,
  parameterListOption,
  relayInformationOption,
  secondsOption,
  segmentSizeOptions,
  staticRoutesOption,
  type Tag,
  TCP_ACK,
  TCP_CWR,
  TCP_ECE,
  TCP_SYN,
  textOption,
} from "../../src/wire/index.ts";
import { dissect, troubles } from "../support/dissect.ts";
import { needs } from "../support/needs.ts";
import { frame, hex, ip, LAPTOP, mac, packet, ROUTER, segment, udp } from "./notation.ts";

const { describe, it } = needs("tshark");

const NEAR = ["192.0.2.1", "192.0.2.2"] as const;
const NEAR6 = ["2001:db8::1", "2001:db8::2"] as const;
const tag: Tag = { tpid: 0x8100, priority: 5, dropEligible: true, vlan: 10 };
const options: readonly DhcpOption[] = [
  messageTypeOption(5),
  addressOption(54, ip("10.71.40.1")),
  secondsOption(51, 43200),
  secondsOption(58, 21600),
  secondsOption(59, 37800),
  addressOption(1, ip("255.255.255.0")),
  addressOption(3, ip("10.71.40.1")),
  addressOption(6, ip("10.71.40.1"), ip("10.71.40.2")),
  textOption(12, "phone"),
  textOption(15, "crew.example"),
  staticRoutesOption([{ prefix: prefixOf(ip("198.51.100.7"), 32), router: ip("10.71.40.2") }]),
  classlessRoutesOption([
    { prefix: prefixOf(ip("10.71.10.0"), 23), router: ip("10.71.40.1") },
    { prefix: prefixOf(ip("0.0.0.0"), 0), router: ip("10.71.40.1") },
  ]),
  addressOption(50, ip("10.71.40.100")),
  parameterListOption([1, 3, 121]),
  longestMessageOption(1472),
  { code: 61, bytes: hex("01 02 00 00 00 0a 01") },
  relayInformationOption([{ code: 1, bytes: hex("70 35") }]),
];

function ipFrame(packet: IpPacket): Frame {
  return frame({ kind: "ip", packet });
}

function dhcp(): Frame {
  const none = ip("0.0.0.0");
  const addresses = { clientAddress: none, yourAddress: ip("10.71.40.100"), nextServer: none, relayAddress: none };
  const numbers = { operation: 2, hops: 0, transaction: 0x1234abcd, seconds: 3, flags: 0x8000 };
  const message = { ...numbers, ...addresses, clientHardware: LAPTOP, options };
  const body = { kind: "udp", sourcePort: 67, destinationPort: 68, data: { kind: "dhcp", message } } as const;
  return ipFrame(packet("10.71.40.1", "255.255.255.255", body));
}

function neighbour(message: NeighbourMessage): Frame {
  return ipFrame(packet("fe80::1", "ff02::1", { kind: "neighbour", message }, { hopLimit: 255 }));
}

function error(ends: readonly [string, string], type: number, code: number, quoted: IpPacket, mtu?: number): Frame {
  const field = mtu === undefined ? {} : { mtu };
  return ipFrame(packet(...ends, { kind: "icmp", type, code, content: { kind: "error", quoted, ...field } }));
}

function bpdu(kind: "config" | "rapid", flags: number): Payload {
  const bridge = { priority: 0x8000, hardware: LAPTOP };
  const times = { messageAge: 256, maxAge: 5120, helloTime: 512, forwardDelay: 3840 };
  const root = { priority: 0x1000, hardware: ROUTER };
  return { kind: "bpdu", bpdu: { kind, flags, root, rootPathCost: 20000, bridge, port: 0x8002, ...times } };
}

const QUESTION = packet("192.0.2.2", "203.0.113.9", udp(40000, 40001, hex("01 02")));
const QUESTION6 = packet("2001:db8::2", "2001:db8:9::9", udp(40000, 40001, hex("01 02 03")));
const LONG = packet(...NEAR, udp(7, 8, new Uint8Array(2000).fill(7)), { dontFragment: false, identification: 77 });
const LONG6 = packet(...NEAR6, udp(7, 8, new Uint8Array(2000).fill(7)), { identification: 0x12345678 });
const SOME = LACP_ACTIVITY | LACP_AGGREGATION | LACP_COLLECTING | LACP_DEFAULTED;
const REST = LACP_TIMEOUT | LACP_SYNCHRONIZATION | LACP_DISTRIBUTING | LACP_EXPIRED;
const ACTOR = { systemPriority: 1, system: LAPTOP, key: 2, portPriority: 0x8000, port: 3, state: SOME };
const PARTNER = { systemPriority: 4, system: ROUTER, key: 5, portPriority: 6, port: 7, state: REST };
const ARP = {
  operation: 1,
  senderHardware: LAPTOP,
  senderAddress: ip("192.0.2.1"),
  targetHardware: 0n,
  targetAddress: ip("192.0.2.2"),
};
const SYN = segment({ flags: TCP_SYN, sequence: 0xfffffff0, options: segmentSizeOptions(1460) });
const ECHO = { kind: "echo", identifier: 7, sequence: 9, data: hex("61 62 63") } as const;
const CREW = parsePrefix("fd71:2c9e:5a04:30::/64")?.prefix ?? prefixOf(ip("::"), 0);

/** Each frame, then what the reader has to say: its field names and values. */
const CASES: readonly (readonly [title: string, frame: Frame, said: Readonly<Record<string, string>>])[] = [
  [
    "ARP",
    frame({ kind: "arp", arp: ARP }, { destination: mac("ff:ff:ff:ff:ff:ff") }),
    { "arp.opcode": "1", "arp.src.proto_ipv4": "192.0.2.1", "arp.dst.proto_ipv4": "192.0.2.2" },
  ],
  [
    "two tags",
    frame({ kind: "arp", arp: ARP }, { tags: [{ ...tag, tpid: 0x88a8, vlan: 4000 }, tag] }),
    { "ieee8021ad.id": "4000", "vlan.id": "10", "vlan.priority": "5", "vlan.dei": "1", "arp.opcode": "1" },
  ],
  [
    "IPv4 with options, and UDP",
    ipFrame(packet(...NEAR, udp(40000, 40001, hex("01 02 03")), { options: hex("94 04 00 00"), trafficClass: 0xb8 })),
    { "ip.hdr_len": "24", "ip.len": "35", "ip.dsfield.dscp": "46", "udp.dstport": "40001", "udp.length": "11" },
  ],
  [
    "TCP",
    ipFrame(packet(...NEAR, { kind: "tcp", ...SYN })),
    { "tcp.flags.str": "··········S·", "tcp.seq_raw": "4294967280", "tcp.options.mss_val": "1460" },
  ],
  [
    "TCP over IPv6",
    ipFrame(
      packet(
        ...NEAR6,
        { kind: "tcp", ...segment({ flags: TCP_ACK | TCP_ECE | TCP_CWR, data: hex("61 62 63") }) },
        { flowLabel: 5 },
      ),
    ),
    { "ipv6.flow": "0x000005", "tcp.flags.ece": "1", "tcp.flags.cwr": "1", "tcp.len": "3", "tcp.ack_raw": "0" },
  ],
  [
    "an echo",
    ipFrame(packet(...NEAR, { kind: "icmp", type: 8, code: 0, content: ECHO })),
    { "icmp.type": "8", "icmp.ident": "7", "icmp.seq": "9" },
  ],
  [
    "an ICMPv6 echo",
    ipFrame(packet(...NEAR6, { kind: "icmp", type: 128, code: 0, content: ECHO })),
    { "icmpv6.type": "128", "icmpv6.echo.identifier": "0x0007", "icmpv6.echo.sequence_number": "9" },
  ],
  [
    "fragmentation needed",
    error(NEAR, 3, 4, QUESTION, 1400),
    { "icmp.type": "3", "icmp.code": "4", "icmp.mtu": "1400", "ip.dst": "192.0.2.2,203.0.113.9" },
  ],
  [
    "packet too big",
    error(NEAR6, 2, 0, QUESTION6, 1280),
    { "icmpv6.type": "2", "icmpv6.mtu": "1280", "ipv6.dst": "2001:db8::2,2001:db8:9::9" },
  ],
  [
    "hop-by-hop options",
    ipFrame(packet(...NEAR6, udp(1, 2), { extensions: [{ header: 0, bytes: hex("05 02 00 00 01 00") }] })),
    { "ipv6.opt.router_alert": "0", "udp.srcport": "1" },
  ],
  [
    "a router advertisement",
    neighbour({
      kind: "router-advertisement",
      hopLimit: 64,
      managed: false,
      other: true,
      preference: 1,
      routerLifetimeSeconds: 1800,
      reachableMs: 30000,
      retransmitMs: 1000,
      options: [
        { kind: "prefix", prefix: CREW, onLink: true, autonomous: true, validSeconds: 7200, preferredSeconds: 3600 },
        { kind: "mtu", mtu: 1480 },
        { kind: "source-link", hardware: ROUTER },
        { kind: "resolvers", lifetimeSeconds: 600, addresses: [ip("fd71::53"), ip("fd71::54")] },
      ],
    }),
    {
      "icmpv6.nd.ra.router_lifetime": "1800",
      "icmpv6.nd.ra.flag.m": "0",
      "icmpv6.nd.ra.flag.o": "1",
      "icmpv6.nd.ra.flag.prf": "1",
      "icmpv6.opt.prefix": "fd71:2c9e:5a04:30::",
      "icmpv6.opt.prefix.length": "64",
      "icmpv6.opt.prefix.flag.l": "1",
      "icmpv6.opt.prefix.flag.a": "1",
      "icmpv6.opt.prefix.valid_lifetime": "7200",
      "icmpv6.opt.mtu": "1480",
      "icmpv6.opt.src_linkaddr": "02:00:00:00:0b:02",
      "icmpv6.opt.rdnss": "fd71::53,fd71::54",
    },
  ],
  [
    "a neighbour advertisement",
    neighbour({
      kind: "neighbour-advertisement",
      target: ip("fe80::1"),
      router: true,
      solicited: false,
      override: true,
      options: [{ kind: "target-link", hardware: LAPTOP }],
    }),
    {
      "icmpv6.nd.na.target_address": "fe80::1",
      "icmpv6.nd.na.flag.r": "1",
      "icmpv6.nd.na.flag.s": "0",
      "icmpv6.nd.na.flag.o": "1",
      "icmpv6.opt.target_linkaddr": "02:00:00:00:0a:01",
    },
  ],
  [
    "DHCP",
    dhcp(),
    {
      "dhcp.id": "0x1234abcd",
      "dhcp.flags.bc": "1",
      "dhcp.secs": "3",
      "dhcp.ip.your": "10.71.40.100",
      "dhcp.hw.mac_addr": "02:00:00:00:0a:01,02:00:00:00:0a:01",
      // The reader shows the end mark as type 0 here, in every server's messages, and as 255 in a field of its own.
      "dhcp.option.type": "53,54,51,58,59,1,3,6,12,15,33,121,50,55,57,61,82,0",
      "dhcp.option.end": "255",
      "dhcp.option.dhcp": "5",
      "dhcp.option.dhcp_server_id": "10.71.40.1",
      "dhcp.option.ip_address_lease_time": "43200",
      "dhcp.option.renewal_time_value": "21600",
      "dhcp.option.rebinding_time_value": "37800",
      "dhcp.option.subnet_mask": "255.255.255.0",
      "dhcp.option.router": "10.71.40.1",
      "dhcp.option.domain_name_server": "10.71.40.1,10.71.40.2",
      "dhcp.option.hostname": "phone",
      "dhcp.option.domain_name": "crew.example",
      "dhcp.option.static_route.ip": "198.51.100.7",
      "dhcp.option.static_route.router": "10.71.40.2",
      "dhcp.option.classless_static_route": "170a470a0a472801,000a472801",
      "dhcp.option.requested_ip_address": "10.71.40.100",
      "dhcp.option.request_list_item": "1,3,121",
      "dhcp.option.dhcp_max_message_size": "1472",
      "dhcp.option.agent_information_option.agent_circuit_id": "7035",
    },
  ],
  [
    "LACP",
    frame(
      { kind: "lacp", lacpdu: { version: 1, actor: ACTOR, partner: PARTNER, collectorMaxDelay: 9 } },
      { destination: mac("01:80:c2:00:00:02") },
    ),
    {
      "lacp.version": "0x01",
      "lacp.actor.sys_priority": "1",
      "lacp.actor.sysid": "02:00:00:00:0a:01",
      "lacp.actor.key": "2",
      "lacp.actor.port_priority": "32768",
      "lacp.actor.port": "3",
      "lacp.actor.state.activity": "1",
      "lacp.actor.state.timeout": "0",
      "lacp.actor.state.aggregation": "1",
      "lacp.actor.state.synchronization": "0",
      "lacp.actor.state.collecting": "1",
      "lacp.actor.state.distributing": "0",
      "lacp.actor.state.defaulted": "1",
      "lacp.actor.state.expired": "0",
      "lacp.partner.sysid": "02:00:00:00:0b:02",
      "lacp.partner.port": "7",
      "lacp.partner.state.activity": "0",
      "lacp.partner.state.timeout": "1",
      "lacp.partner.state.aggregation": "0",
      "lacp.partner.state.synchronization": "1",
      "lacp.partner.state.collecting": "0",
      "lacp.partner.state.distributing": "1",
      "lacp.partner.state.defaulted": "0",
      "lacp.partner.state.expired": "1",
      "lacp.collector.max_delay": "9",
    },
  ],
  [
    "a spanning tree configuration",
    frame(bpdu("config", BPDU_TOPOLOGY_CHANGE | BPDU_ACKNOWLEDGMENT), { destination: mac("01:80:c2:00:00:00") }),
    {
      "stp.version": "0",
      "stp.root.prio": "4096",
      "stp.root.hw": "02:00:00:00:0b:02",
      "stp.root.cost": "20000",
      "stp.bridge.hw": "02:00:00:00:0a:01",
      "stp.port": "0x8002",
      "stp.max_age": "20",
      "stp.hello": "2",
      "stp.forward": "15",
      "stp.flags.tc": "1",
      "stp.flags.tcack": "1",
    },
  ],
  [
    "a rapid spanning tree message",
    frame(bpdu("rapid", BPDU_PROPOSAL | BPDU_ROLE_MASK | BPDU_LEARNING | BPDU_FORWARDING), {
      destination: mac("01:80:c2:00:00:00"),
    }),
    {
      "stp.version": "2",
      "stp.type": "0x02",
      "stp.root.cost": "20000",
      "stp.version_1_length": "0",
      "stp.flags.tc": "0",
      "stp.flags.proposal": "1",
      "stp.flags.port_role": "3",
      "stp.flags.learning": "1",
      "stp.flags.forwarding": "1",
      "stp.flags.agreement": "0",
      "stp.flags.tcack": "0",
    },
  ],
  [
    "a rapid spanning tree agreement",
    frame(bpdu("rapid", BPDU_AGREEMENT), { destination: mac("01:80:c2:00:00:00") }),
    { "stp.flags.agreement": "1", "stp.flags.proposal": "0", "stp.flags.port_role": "0" },
  ],
  [
    "a topology change",
    frame({ kind: "bpdu", bpdu: { kind: "topology-change" } }, { destination: mac("01:80:c2:00:00:00") }),
    { "stp.type": "0x80", "eth.len": "7" },
  ],
];

const FRAGMENTS = [...fragmentPacket(LONG, 1500), ...fragmentPacket(LONG6, 1280)].map(ipFrame);

function capture(frames: readonly Uint8Array[]): Uint8Array {
  return emitCapture({
    interfaces: ["edge wan", "loft up"],
    frames: frames.map((bytes, index) => ({
      interface: index % 2,
      atNs: 1_000_000_007n * BigInt(index),
      bytes,
      ...(index === 1 ? { comment: "dropped by `visitors go out`" } : {}),
    })),
  });
}

const SENT: readonly Uint8Array[] = [...CASES.map(([, sent]) => sent), ...FRAGMENTS].map(emitFrame);

describe("a dissector reads", () => {
  const wanted = [...new Set(CASES.flatMap(([, , said]) => Object.keys(said)))];
  const read = () => dissect(capture(SENT), wanted);
  let cached: ReturnType<typeof read> | undefined;

  it.each(CASES.map(([title, , said], index) => [title, index, said] as const))(
    "%s as it was meant",
    (_, index, said) => {
      cached ??= read();
      const found = cached[index] ?? {};
      expect(Object.fromEntries(Object.keys(said).map((field) => [field, found[field]]))).toEqual(said);
    },
  );
});

describe("a dissector finds", () => {
  it("nothing malformed, no warning, no wrong checksum", () => {
    expect(troubles(capture(SENT))).toEqual([]);
  });

  it.each(["ip", "udp", "tcp", "icmp", "icmpv6"])("a right checksum of %s", (protocol) => {
    const field = `${protocol}.checksum.status`;
    const [found] = dissect(capture(SENT), [field]).filter((each) => each[field] !== "");
    expect(found).toEqual({ [field]: "1" });
  });

  it("what is wrong, when something is", () => {
    const bytes = emitFrame(ipFrame(QUESTION));
    bytes[14 + 8] = 1; // hop limit
    bytes[14 + 20] = 9; // source port
    const cut = emitFrame(frame({ kind: "other", etherType: 0x0806, bytes: hex("00 01 08 00 06 04 00 01") })).slice(
      0,
      30,
    );
    const found = troubles(capture([bytes, cut]));
    expect(found).toContain("frame 1: ip.checksum.status");
    expect(found).toContain("frame 1: udp.checksum.status");
    expect(found.filter((each) => each.startsWith("frame 2: "))).not.toEqual([]);
  });

  it("fragments that join to the whole datagram", () => {
    const found = dissect(capture(FRAGMENTS.map(emitFrame)), ["ip.reassembled.length", "ipv6.reassembled.length"]);
    expect(found.map((each) => Object.values(each).join(""))).toEqual(["", "2008", "", "2008"]);
  });

  it("interfaces by name, times in nanoseconds, and comments", () => {
    const found = dissect(capture(SENT.slice(0, 2)), ["frame.interface_name", "frame.time_epoch", "frame.comment"]);
    expect(found.map((each) => Object.values(each))).toEqual([
      ["edge wan", "0.000000000", ""],
      ["loft up", "1.000000007", "dropped by `visitors go out`"],
    ]);
  });
});
