/**
 * Bytes to frames and back, one file a protocol, on two levels.
 *
 * Each protocol's own file has the same shape: offsets, value type, `parseX` (bytes to value, or `Malformed`), `emitX`
 * (value to bytes, lengths and checksums computed) and `describeX` (one line of plain words). Payloads stay bytes there.
 *
 * `Frame` is the whole: an Ethernet frame whose payload is taken apart down to the DHCP message. It is what the
 * simulator moves; `emitFrame` and `parseFrame` lead to bytes and back, `frameLength` and `lengthOfIp` count without
 * writing. Code points that are not modelled survive as bytes. Parsers never throw; emitters throw a `RangeError` for
 * a value that has no place on the wire, which is our fault.
 *
 * ```ts
 * const frame = parseFrame(bytes);
 * if (!isMalformed(frame)) console.log(describeFrame(frame)); // 02:..:01 to everyone, VLAN 40: ARP: 10.71.40.7 asks where 10.71.40.1 is
 * ```
 */
export { ARP_REPLY, ARP_REQUEST, type ArpPacket, describeArp, emitArp, parseArp } from "./arp.ts";
export {
  BPDU_ACKNOWLEDGMENT,
  BPDU_AGREEMENT,
  BPDU_FORWARDING,
  BPDU_LEARNING,
  BPDU_PROPOSAL,
  BPDU_ROLE_MASK,
  BPDU_TOPOLOGY_CHANGE,
  type Bpdu,
  type BridgeIdentifier,
  bpduLength,
  describeBpdu,
  emitBpdu,
  parseBpdu,
  type TreeBpdu,
} from "./bpdu.ts";
export { type Ends, internetChecksum, onesComplementSum, transportChecksum, updateChecksum } from "./checksum.ts";
export { describeIp } from "./describe-packet.ts";
export {
  BOOT_REPLY,
  BOOT_REQUEST,
  DHCP_BROADCAST,
  DHCP_CLIENT_PORT,
  DHCP_SERVER_PORT,
  type DhcpMessage,
  type DhcpOption,
  describeDhcp,
  dhcpLength,
  emitDhcp,
  parseDhcp,
} from "./dhcp.ts";
export {
  addressOption,
  classlessRoutesOption,
  DHCP_ACKNOWLEDGE,
  DHCP_CLASSLESS_ROUTES,
  DHCP_CLIENT_IDENTIFIER,
  DHCP_DECLINE,
  DHCP_DISCOVER,
  DHCP_DOMAIN_NAME,
  DHCP_ERROR_TEXT,
  DHCP_HOST_NAME,
  DHCP_INFORM,
  DHCP_LEASE_SECONDS,
  DHCP_LONGEST_MESSAGE,
  DHCP_MESSAGE_TYPE,
  DHCP_OFFER,
  DHCP_OVERLOAD,
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
  DHCP_STATIC_ROUTES,
  DHCP_SUBNET_MASK,
  dhcpAddress,
  dhcpAddresses,
  dhcpClasslessRoutes,
  dhcpLongestMessage,
  dhcpMessageType,
  dhcpOption,
  dhcpParameterList,
  dhcpRelayInformation,
  dhcpSeconds,
  dhcpStaticRoutes,
  dhcpText,
  type LeaseRoute,
  longestMessageOption,
  messageTypeOption,
  parameterListOption,
  type RelaySubOption,
  relayInformationOption,
  secondsOption,
  staticRoutesOption,
  textOption,
} from "./dhcp-options.ts";
export { emitIp, headersLength, isFragment, lengthOfIp, protocolOf } from "./emit-packet.ts";
export {
  BRIDGE_GROUP,
  CHECK_SEQUENCE_LENGTH,
  describeEthernet,
  ETHERTYPE_ARP,
  ETHERTYPE_IPV4,
  ETHERTYPE_IPV6,
  type EthernetFrame,
  emitEthernet,
  ethernetLength,
  LENGTH_FIELD,
  LINE_OVERHEAD,
  parseEthernet,
  SLOW_PROTOCOLS_GROUP,
  type Tag,
  TPID_CUSTOMER,
  TPID_SERVICE,
} from "./ethernet.ts";
export { fragmentPacket, joinFragments } from "./fragment.ts";
export {
  describeFrame,
  emitFrame,
  etherTypeOf,
  type Frame,
  frameLength,
  type Payload,
  packetIn,
  parseFrame,
  typeFieldOf,
} from "./frame.ts";
export {
  describeIcmp,
  emitIcmp,
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
  type IcmpMessage,
  isIcmpError,
  PROTOCOL_ICMP,
  parseIcmp,
} from "./icmp.ts";
export {
  describeIcmpv6,
  emitIcmpv6,
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
  isIcmpv6Error,
  PROTOCOL_ICMPV6,
  parseIcmpv6,
} from "./icmpv6.ts";
export { describeIpv4, emitIpv4, type Ipv4Packet, parseIpv4 } from "./ipv4.ts";
export { describeIpv6, emitIpv6, type Ipv6Packet, parseIpv6 } from "./ipv6.ts";
export type { ExtensionHeader } from "./ipv6-extensions.ts";
export {
  describeLacpdu,
  emitLacpdu,
  LACP_ACTIVITY,
  LACP_AGGREGATION,
  LACP_COLLECTING,
  LACP_DEFAULTED,
  LACP_DISTRIBUTING,
  LACP_EXPIRED,
  LACP_SYNCHRONIZATION,
  LACP_TIMEOUT,
  type Lacpdu,
  type LacpPort,
  parseLacpdu,
} from "./lacp.ts";
export { isMalformed, type Malformed } from "./malformed.ts";
export {
  describeNeighbour,
  emitNeighbour,
  NEIGHBOUR_ADVERTISEMENT,
  NEIGHBOUR_SOLICITATION,
  type NeighbourAdvertisement,
  type NeighbourMessage,
  type NeighbourSolicitation,
  neighbourType,
  parseNeighbour,
  ROUTER_ADVERTISEMENT,
  ROUTER_SOLICITATION,
  type RouterAdvertisement,
  type RouterSolicitation,
} from "./neighbour.ts";
export {
  linkAddress,
  type NeighbourOption,
} from "./neighbour-options.ts";
export type {
  IcmpBody,
  IcmpContent,
  IpBody,
  IpHeader,
  IpPacket,
  NeighbourBody,
  RawBody,
  TcpBody,
  UdpBody,
  UdpData,
} from "./packet.ts";
export { parseIp } from "./parse-packet.ts";
export { MTU_PLATEAUS, plateauBelow } from "./path-mtu.ts";
export {
  type Capture,
  type CapturedFrame,
  emitCapture,
  emitCapturedFrame,
  emitInterface,
  emitSection,
} from "./pcapng.ts";
export { emitSession, parseSession } from "./pppoe.ts";
export {
  clampSegmentSize,
  describeTcp,
  emitTcp,
  PROTOCOL_TCP,
  parseTcp,
  segmentSizeOf,
  segmentSizeOptions,
  TCP_ACK,
  TCP_CWR,
  TCP_ECE,
  TCP_FIN,
  TCP_HEADER_LENGTH,
  TCP_PSH,
  TCP_RST,
  TCP_SYN,
  TCP_URG,
  type TcpSegment,
} from "./tcp.ts";
export { describeUdp, emitUdp, PROTOCOL_UDP, parseUdp, type UdpDatagram } from "./udp.ts";
