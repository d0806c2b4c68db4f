/**
 * Published values about bytes on the wire: each stands beside the document and section that prints it. "Derived" marks
 * a number worked out from a printed rule, "from memory" what no text at hand confirms.
 */
import { describe, expect, it } from "vitest";
import { multicastHardware, type Prefix, parsePrefix, prefixOf } from "../../src/address/index.ts";
import {
  ARP_REPLY,
  ARP_REQUEST,
  addressOption,
  BRIDGE_GROUP,
  CHECK_SEQUENCE_LENGTH,
  classlessRoutesOption,
  DHCP_ACKNOWLEDGE,
  DHCP_CLASSLESS_ROUTES,
  DHCP_CLIENT_IDENTIFIER,
  DHCP_CLIENT_PORT,
  DHCP_DECLINE,
  DHCP_DISCOVER,
  DHCP_DOMAIN_NAME,
  DHCP_HOST_NAME,
  DHCP_INFORM,
  DHCP_LEASE_SECONDS,
  DHCP_LONGEST_MESSAGE,
  DHCP_MESSAGE_TYPE,
  DHCP_OFFER,
  DHCP_PARAMETER_LIST,
  DHCP_REBINDING_SECONDS,
  DHCP_REFUSE,
  DHCP_RELAY_INFORMATION,
  DHCP_RELEASE,
  DHCP_RENEWAL_SECONDS,
  DHCP_REQUEST,
  DHCP_REQUESTED_ADDRESS,
  DHCP_RESOLVERS,
  DHCP_ROUTERS,
  DHCP_SERVER_IDENTIFIER,
  DHCP_SERVER_PORT,
  DHCP_STATIC_ROUTES,
  DHCP_SUBNET_MASK,
  type DhcpMessage,
  dhcpClasslessRoutes,
  ETHERTYPE_ARP,
  ETHERTYPE_IPV6,
  emitDhcp,
  emitEthernet,
  emitFrame,
  emitIp,
  emitNeighbour,
  etherTypeOf,
  fragmentPacket,
  frameLength,
  ICMP_ECHO_REPLY,
  ICMP_ECHO_REQUEST,
  ICMP_FRAGMENTATION_NEEDED,
  ICMP_HOST_UNREACHABLE,
  ICMP_NET_UNREACHABLE,
  ICMP_PARAMETER_PROBLEM,
  ICMP_PORT_UNREACHABLE,
  ICMP_PROHIBITED,
  ICMP_REDIRECT,
  ICMP_TIME_EXCEEDED,
  ICMP_UNREACHABLE,
  ICMPV6_ADDRESS_UNREACHABLE,
  ICMPV6_ECHO_REPLY,
  ICMPV6_ECHO_REQUEST,
  ICMPV6_NO_ROUTE,
  ICMPV6_PARAMETER_PROBLEM,
  ICMPV6_PORT_UNREACHABLE,
  ICMPV6_PROHIBITED,
  ICMPV6_TIME_EXCEEDED,
  ICMPV6_TOO_BIG,
  ICMPV6_UNREACHABLE,
  internetChecksum,
  LINE_OVERHEAD,
  lengthOfIp,
  MTU_PLATEAUS,
  messageTypeOption,
  NEIGHBOUR_ADVERTISEMENT,
  NEIGHBOUR_SOLICITATION,
  neighbourType,
  onesComplementSum,
  parseEthernet,
  parseFrame,
  parseIp,
  plateauBelow,
  ROUTER_ADVERTISEMENT,
  ROUTER_SOLICITATION,
  SLOW_PROTOCOLS_GROUP,
  TPID_CUSTOMER,
  TPID_SERVICE,
  updateChecksum,
} from "../../src/wire/index.ts";
import { frame, hex, ip, LAPTOP, mac, packet, ROUTER, segment, toHex, udp } from "../wire/notation.ts";

describe("P1: RFC 1071 section 3, the numerical examples", () => {
  it("sums 00 01 f2 03 f4 f5 f6 f7 to ddf2", () => {
    expect(onesComplementSum(hex("00 01 f2 03 f4 f5 f6 f7"))).toBe(0xddf2);
  });

  it("makes it the checksum 220d (derived: the complement)", () => {
    expect(internetChecksum(hex("00 01 f2 03 f4 f5 f6 f7"))).toBe(0x220d);
  });

  it("sums the swapped bytes to f2dd", () => {
    expect(onesComplementSum(hex("01 00 03 f2 f5 f4 f7 f6"))).toBe(0xf2dd);
  });

  it("sums groups split after an odd byte to the same, the second group swapped", () => {
    const first = onesComplementSum(hex("00 01 f2"));
    const second = onesComplementSum(hex("03 f4 f5 f6 f7"));
    expect([first, second]).toEqual([0xf201, 0xf0eb]);
    const swapped = ((second & 0xff) << 8) | (second >> 8);
    expect(onesComplementSum(hex(""), first + swapped)).toBe(0xddf2);
  });
});

describe("P2: RFC 1624 section 4, the example that equation 3 gets right", () => {
  it("updates DD2F for 5555 -> 3285 to 0000, not FFFF", () => {
    expect(updateChecksum(0xdd2f, 0x5555, 0x3285)).toBe(0x0000);
  });
});

describe("P3: RFC 791 appendix A, example 2", () => {
  const data = Uint8Array.from({ length: 432 }, (_, index) => index & 0xff);
  const body = { kind: "tcp", ...segment({ data }) } as const; // 20 bytes of header and 432 make 452 data octets
  const whole = packet("192.0.2.1", "198.51.100.1", body, { identification: 111, hopLimit: 123, dontFragment: false });

  it("begins with a datagram of 472 octets", () => {
    expect([lengthOfIp(whole), toHex(emitIp(whole).subarray(0, 10))]).toEqual([472, "45 00 01 d8 00 6f 00 00 7b 06"]);
  });

  it("cuts it for 280 octets after 256 data octets: lengths 276 and 216, offsets 0 and 32", () => {
    const written = fragmentPacket(whole, 280).map((piece) => toHex(emitIp(piece).subarray(0, 8)));
    expect(written).toEqual(["45 00 01 14 00 6f 20 00", "45 00 00 d8 00 6f 00 20"]);
  });
});

describe("P4: RFC 791 appendix A, examples 1 and 3", () => {
  it("writes the minimal datagram with data: IHL 5, total length 21", () => {
    const minimal = packet(
      "192.0.2.1",
      "198.51.100.1",
      { kind: "raw", protocol: 1, bytes: hex("aa") },
      { identification: 111, hopLimit: 123, dontFragment: false },
    );
    expect(toHex(emitIp(minimal).subarray(0, 10))).toBe("45 00 00 15 00 6f 00 00 7b 01");
  });

  it("writes a datagram with options: IHL 8, total length 576", () => {
    // Codes x and y of the figure: 130 and 136, any values would do.
    const options = hex("82 03 aa 82 04 bb bb 01 88 03 cc 00");
    const body = { kind: "tcp", ...segment({ data: new Uint8Array(576 - 32 - 20) }) } as const;
    const full = packet("192.0.2.1", "198.51.100.1", body, { options, identification: 111 });
    expect(toHex(emitIp(full).subarray(0, 4))).toBe("48 00 02 40");
    expect(parseIp(emitIp(full))).toEqual(full);
  });
});

describe("P5: RFC 826, ARP", () => {
  it("requests with operation 1, replies with 2", () => {
    expect([ARP_REQUEST, ARP_REPLY]).toEqual([1, 2]);
  });

  it("travels behind EtherType 0806 (from memory)", () => {
    const none = ip("0.0.0.0");
    const arp = { operation: 1, senderHardware: LAPTOP, senderAddress: none, targetHardware: 0n, targetAddress: none };
    expect([ETHERTYPE_ARP, etherTypeOf({ kind: "arp", arp })]).toEqual([0x0806, 0x0806]);
  });
});

describe("P6: RFC 2464 sections 3 and 6", () => {
  it("sends IPv6 behind EtherType 86DD", () => {
    const ping = packet("fe80::1", "fe80::2", udp(1, 2));
    expect(ETHERTYPE_IPV6).toBe(0x86dd);
    expect(toHex(emitFrame(frame({ kind: "ip", packet: ping })).subarray(12, 14))).toBe("86 dd");
  });

  it.each([
    ["source-link", "01 01 02 00 00 00 0a 01"],
    ["target-link", "02 01 02 00 00 00 0a 01"],
  ] as const)("writes a %s option with length 1", (kind, written) => {
    const message = emitNeighbour({ kind: "router-solicitation", options: [{ kind, hardware: LAPTOP }] });
    expect(toHex(message.bytes.subarray(4))).toBe(written);
  });
});

describe("RFC 4861 section 4: messages of neighbour discovery", () => {
  it("have types 133 to 136", () => {
    const routers = [ROUTER_SOLICITATION, ROUTER_ADVERTISEMENT];
    expect([...routers, NEIGHBOUR_SOLICITATION, NEIGHBOUR_ADVERTISEMENT]).toEqual([133, 134, 135, 136]);
    const target = ip("fe80::1");
    expect(neighbourType({ kind: "neighbour-solicitation", target, options: [] })).toBe(135);
    expect(neighbourType({ kind: "router-solicitation", options: [] })).toBe(133);
  });
});

describe("P7: IEEE 802.1Q, the tag (layout from memory, EtherType from the YANG module)", () => {
  it("writes priority 5, VLAN 10 as 81 00 a0 0a (derived)", () => {
    const tags = [{ tpid: TPID_CUSTOMER, priority: 5, dropEligible: false, vlan: 10 }];
    const tagged = { destination: ROUTER, source: LAPTOP, tags, etherType: 0x88b5, payload: hex("00*46") };
    expect(toHex(emitEthernet(tagged).subarray(12, 16))).toBe("81 00 a0 0a");
    expect(parseEthernet(emitEthernet(tagged))).toEqual(tagged);
  });
});

describe("P8: RFC 1191", () => {
  it("section 4: the next-hop MTU lies in the low 16 bits behind the checksum of ICMP 3/4", () => {
    const quoted = packet("192.0.2.9", "198.51.100.1", udp(1, 2));
    const body = { kind: "icmp", type: 3, code: 4, content: { kind: "error", mtu: 1400, quoted } } as const;
    const error = packet("192.0.2.1", "192.0.2.9", body);
    const bytes = emitIp(error);
    expect([toHex(bytes.subarray(20, 22)), toHex(bytes.subarray(24, 28))]).toEqual(["03 04", "00 00 05 78"]);
    expect(parseIp(bytes)).toEqual(error);
  });

  it("table 7-1: the plateaus", () => {
    expect(MTU_PLATEAUS).toEqual([65535, 32000, 17914, 8166, 4352, 2002, 1492, 1006, 508, 296, 68]);
  });

  it.each([
    [65535, 32000],
    [1500, 1492],
    [1492, 1006],
    [69, 68],
    [68, 68],
  ])("section 7.1: below %d the next size to try is %d (derived)", (length, next) => {
    expect(plateauBelow(length)).toBe(next);
  });
});

describe("R9: codes of destination unreachable", () => {
  it.each([
    ["network, RFC 1812 section 5.2.7.1", ICMP_NET_UNREACHABLE, 0],
    ["host, RFC 1812 section 5.2.7.1", ICMP_HOST_UNREACHABLE, 1],
    ["port, RFC 792", ICMP_PORT_UNREACHABLE, 3],
    ["fragmentation needed and DF set, RFC 792 and RFC 1191 section 4", ICMP_FRAGMENTATION_NEEDED, 4],
    ["communication administratively prohibited, RFC 1812 section 5.2.7.1", ICMP_PROHIBITED, 13],
    ["IPv6 no route, RFC 4443 section 3.1 (from memory)", ICMPV6_NO_ROUTE, 0],
    ["IPv6 administratively prohibited, RFC 4443 section 3.1 (from memory)", ICMPV6_PROHIBITED, 1],
    ["IPv6 address, RFC 4443 section 3.1 (from memory)", ICMPV6_ADDRESS_UNREACHABLE, 3],
    ["IPv6 port, RFC 4443 section 3.1 (from memory)", ICMPV6_PORT_UNREACHABLE, 4],
  ])("%s: %d", (_, ours, published) => {
    expect(ours).toBe(published);
  });

  it("types, RFC 792: 0 and 8 echo, 3 unreachable, 5 redirect, 11 time exceeded, 12 parameter problem", () => {
    expect([ICMP_ECHO_REPLY, ICMP_ECHO_REQUEST, ICMP_UNREACHABLE]).toEqual([0, 8, 3]);
    expect([ICMP_REDIRECT, ICMP_TIME_EXCEEDED, ICMP_PARAMETER_PROBLEM]).toEqual([5, 11, 12]);
  });

  it("types of IPv6, RFC 4890 section 4.3: 1 to 4 errors, 128 and 129 echo", () => {
    const errors = [ICMPV6_UNREACHABLE, ICMPV6_TOO_BIG, ICMPV6_TIME_EXCEEDED, ICMPV6_PARAMETER_PROBLEM];
    expect([...errors, ICMPV6_ECHO_REQUEST, ICMPV6_ECHO_REPLY]).toEqual([1, 2, 3, 4, 128, 129]);
  });
});

describe("L7 and L8: IEEE 802.1Q and 802.1AX YANG modules", () => {
  it("tag with 81-00 and 88-A8", () => {
    expect([TPID_CUSTOMER, TPID_SERVICE]).toEqual([0x8100, 0x88a8]);
  });

  it.each([0, 1, 2, 3, 4, 5, 6, 7])("keep priority code point %d", (priority) => {
    const tags = [{ tpid: TPID_SERVICE, priority, dropEligible: true, vlan: 4094 }];
    const sent = frame({ kind: "other", etherType: 0x88b5, bytes: hex("00*46") }, { tags });
    expect(parseFrame(emitFrame(sent))).toEqual(sent);
  });

  it("send spanning tree to 01-80-C2-00-00-00 and slow protocols to -02", () => {
    expect([BRIDGE_GROUP, SLOW_PROTOCOLS_GROUP]).toEqual([mac("01-80-C2-00-00-00"), mac("01-80-C2-00-00-02")]);
  });
});

describe("L14: IEEE 802.3 frame sizes, check sequence counted (from memory)", () => {
  const full = { kind: "ip", packet: packet("192.0.2.1", "192.0.2.2", udp(1, 2, new Uint8Array(1472))) } as const;
  const tag = { tpid: TPID_CUSTOMER, priority: 0, dropEligible: false, vlan: 10 };
  const sized = (tags: number) => frameLength(frame(full, { tags: Array(tags).fill(tag) })) + CHECK_SEQUENCE_LENGTH;

  it("the longest untagged frame has 1518 octets, 1522 with one tag, 1526 with two", () => {
    expect([sized(0), sized(1), sized(2)]).toEqual([1518, 1522, 1526]);
  });

  it("the shortest has 64", () => {
    const short = frame({ kind: "other", etherType: 0x88b5, bytes: hex("") });
    expect([frameLength(short), emitFrame(short).length].map((length) => length + CHECK_SEQUENCE_LENGTH)).toEqual([
      64, 64,
    ]);
  });

  it("a packet of 1500 costs 1538 octets of line", () => {
    expect(sized(0) + LINE_OVERHEAD).toBe(1538);
  });
});

describe("L17: RFC 2464 section 7", () => {
  it("sends to an IPv6 group by 33-33 and its last four octets", () => {
    const group = ip("ff02::1:ff0e:8c6c");
    const solicitation = { kind: "neighbour-solicitation", target: ip("4037::1:800:200e:8c6c"), options: [] } as const;
    const asked = packet("fe80::1", "ff02::1:ff0e:8c6c", { kind: "neighbour", message: solicitation });
    const sent = frame({ kind: "ip", packet: asked }, { destination: multicastHardware(group) });
    expect(toHex(emitFrame(sent).subarray(0, 6))).toBe("33 33 ff 0e 8c 6c");
  });
});

function dhcp(options: DhcpMessage["options"]): DhcpMessage {
  const none = ip("0.0.0.0");
  const addresses = { clientAddress: none, yourAddress: none, nextServer: none, relayAddress: none };
  const numbers = { operation: 2, hops: 0, transaction: 1, seconds: 0, flags: 0 };
  return { ...numbers, ...addresses, clientHardware: LAPTOP, options };
}

function prefix(text: string): Prefix {
  const found = parsePrefix(text);
  if (found === undefined) throw new Error(text);
  return found.prefix;
}

describe("D14: RFC 3442, destination descriptors of option 121", () => {
  const router = ip("10.0.0.1");

  it.each([
    ["0.0.0.0/0", "0"],
    ["10.0.0.0/8", "8.10"],
    ["10.0.0.0/24", "24.10.0.0"],
    ["10.17.0.0/16", "16.10.17"],
    ["10.27.129.0/24", "24.10.27.129"],
    ["10.229.0.128/25", "25.10.229.0.128"],
    ["10.198.122.47/32", "32.10.198.122.47"],
  ])("%s is %s", (destination, descriptor) => {
    const option = classlessRoutesOption([{ prefix: prefix(destination), router }]);
    expect(option.bytes.join(".")).toBe(`${descriptor}.10.0.0.1`);
    expect(dhcpClasslessRoutes(dhcp([option]))).toEqual([{ prefix: prefix(destination), router }]);
  });

  it("a descriptor has as many octets as its width needs", () => {
    const octets = (width: number) =>
      classlessRoutesOption([{ prefix: prefixOf(ip("255.255.255.255"), width), router }]).bytes.length - 5;
    const expected = Array.from({ length: 33 }, (_, width) => Math.ceil(width / 8));
    expect(Array.from({ length: 33 }, (_, width) => octets(width))).toEqual(expected);
    expect([0, 1, 8, 9, 16, 17, 24, 25, 32].map(octets)).toEqual([0, 1, 1, 2, 2, 3, 3, 4, 4]);
  });
});

describe("D15: RFC 3442, what a client installs (encoding only)", () => {
  it("zeroes the bits that the mask excludes: 129.210.177.132/25 is 129.210.177.128/25", () => {
    const option = { code: 121, bytes: Uint8Array.of(25, 129, 210, 177, 132, 10, 0, 21, 1) };
    expect(dhcpClasslessRoutes(dhcp([option]))).toEqual([
      { prefix: prefix("129.210.177.128/25"), router: ip("10.0.21.1") },
    ]);
  });

  it("keeps router 0.0.0.0, which means: on the client's own link", () => {
    const onLink = ip("0.0.0.0");
    const routes = ["10.0.0.0/24", "192.168.0.0/24"].map((each) => ({ prefix: prefix(each), router: onLink }));
    expect(dhcpClasslessRoutes(dhcp([classlessRoutesOption(routes)]))).toEqual(routes);
  });
});

describe("D18: RFC 2132, codes", () => {
  it.each([
    ["subnet mask, section 3.3", DHCP_SUBNET_MASK, 1],
    ["router, section 3.5", DHCP_ROUTERS, 3],
    ["domain name server, section 3.8", DHCP_RESOLVERS, 6],
    ["host name, section 3.14", DHCP_HOST_NAME, 12],
    ["domain name, section 3.17", DHCP_DOMAIN_NAME, 15],
    ["static route, section 5.8", DHCP_STATIC_ROUTES, 33],
    ["requested address, section 9.1", DHCP_REQUESTED_ADDRESS, 50],
    ["lease time, section 9.2", DHCP_LEASE_SECONDS, 51],
    ["message type, section 9.6", DHCP_MESSAGE_TYPE, 53],
    ["server identifier, section 9.7", DHCP_SERVER_IDENTIFIER, 54],
    ["parameter request list, section 9.8", DHCP_PARAMETER_LIST, 55],
    ["maximum message size, section 9.10", DHCP_LONGEST_MESSAGE, 57],
    ["renewal time, section 9.11", DHCP_RENEWAL_SECONDS, 58],
    ["rebinding time, section 9.12", DHCP_REBINDING_SECONDS, 59],
    ["client identifier, section 9.14", DHCP_CLIENT_IDENTIFIER, 61],
    ["relay agent information, RFC 3046 section 2", DHCP_RELAY_INFORMATION, 82],
    ["classless routes, RFC 3442", DHCP_CLASSLESS_ROUTES, 121],
  ])("%s: %d", (_, ours, published) => {
    expect(ours).toBe(published);
  });

  it("section 9.6: message types 1 to 8", () => {
    const types = [DHCP_DISCOVER, DHCP_OFFER, DHCP_REQUEST, DHCP_DECLINE, DHCP_ACKNOWLEDGE, DHCP_REFUSE, DHCP_RELEASE];
    expect([...types, DHCP_INFORM]).toEqual([1, 2, 3, 4, 5, 6, 7, 8]);
  });

  it("RFC 2131 section 4.1: servers and relays listen on port 67, clients on 68", () => {
    expect([DHCP_SERVER_PORT, DHCP_CLIENT_PORT]).toEqual([67, 68]);
  });

  it("section 2: the options field begins with 99.130.83.99 and ends with 255", () => {
    const bytes = emitDhcp(dhcp([messageTypeOption(2), addressOption(54, ip("10.0.0.1"))]));
    expect(bytes.slice(236, 240).join(".")).toBe("99.130.83.99");
    expect(toHex(bytes.subarray(240, 250))).toBe("35 01 02 36 04 0a 00 00 01 ff");
  });

  it("RFC 3046 section 2.1: option 82 stays where the relay put it, last before the end", () => {
    const relayed = dhcp([
      messageTypeOption(1),
      { code: 61, bytes: hex("01 02") },
      { code: 82, bytes: hex("01 01 07") },
    ]);
    const bytes = emitDhcp(relayed);
    expect(toHex(bytes.subarray(247, 253))).toBe("52 03 01 01 07 ff");
  });
});
