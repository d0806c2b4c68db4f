/**
 * Bytes to structured IP packets. What is well formed but not modelled stays opaque (`raw`, `other`, `bytes`); what
 * breaks a rule of its protocol, wrong checksums included, is `Malformed`. Lossless up to padding, reserved bits and
 * an absent UDP checksum.
 */
import { sameBytes, viewOf } from "./bytes.ts";
import { DHCP_CLIENT_PORT, DHCP_SERVER_PORT, parseDhcp } from "./dhcp.ts";
import { emitIp, isFragment, quotationRoom } from "./emit-packet.ts";
import {
  ICMP_ECHO_REPLY,
  ICMP_ECHO_REQUEST,
  ICMP_FRAGMENTATION_NEEDED,
  ICMP_UNREACHABLE,
  type IcmpMessage,
  isIcmpError,
  PROTOCOL_ICMP,
  parseIcmp,
} from "./icmp.ts";
import {
  ICMPV6_ECHO_REPLY,
  ICMPV6_ECHO_REQUEST,
  ICMPV6_TOO_BIG,
  isIcmpv6Error,
  PROTOCOL_ICMPV6,
  parseIcmpv6,
} from "./icmpv6.ts";
import { parseIpv4 } from "./ipv4.ts";
import { parseIpv6 } from "./ipv6.ts";
import { parseExtensions } from "./ipv6-extensions.ts";
import { isMalformed, type Malformed, truncated } from "./malformed.ts";
import { parseNeighbour } from "./neighbour.ts";
import type { IcmpContent, IpBody, IpHeader, IpPacket, UdpBody, UdpData } from "./packet.ts";
import { PROTOCOL_TCP, parseTcp } from "./tcp.ts";
import { PROTOCOL_UDP, parseUdp, type UdpDatagram } from "./udp.ts";

const CONTENT_HEAD_LENGTH = 4; // what echoes and errors have before data or quotation

/** Reads a packet of either family; bytes behind its length are padding. */
export function parseIp(bytes: Uint8Array): IpPacket | Malformed {
  if (bytes.length === 0) return truncated("IP", 1, 0);
  return viewOf(bytes).getUint8(0) >> 4 === 6 ? fromIpv6(bytes) : fromIpv4(bytes);
}

/** Reads the bytes behind the headers of a whole packet. */
export function parseBody(protocol: number, bytes: Uint8Array, header: IpHeader): IpBody | Malformed {
  if (protocol === PROTOCOL_UDP) return parseUdpBody(bytes, header);
  if (protocol === PROTOCOL_TCP) return parseTcpBody(bytes, header);
  if (protocol === PROTOCOL_ICMP && header.source.family === 4) return parseIcmpBody(bytes, header);
  if (protocol === PROTOCOL_ICMPV6 && header.source.family === 6) return parseIcmpv6Body(bytes, header);
  return { kind: "raw", protocol, bytes };
}

function fromIpv4(bytes: Uint8Array): IpPacket | Malformed {
  const outer = parseIpv4(bytes);
  if (isMalformed(outer)) return outer;
  const { protocol, reserved: _, options, payload, ...fields } = outer;
  return withBody({ ...fields, ...(options.length > 0 ? { options } : {}) }, protocol, payload);
}

function fromIpv6(bytes: Uint8Array): IpPacket | Malformed {
  const outer = parseIpv6(bytes);
  if (isMalformed(outer)) return outer;
  const { flowLabel, nextHeader, payload, ...fields } = outer;
  const chain = parseExtensions(nextHeader, payload);
  if (isMalformed(chain)) return chain;
  const header: IpHeader = {
    ...fields,
    dontFragment: true,
    ...(chain.fragment ?? { identification: 0, moreFragments: false, fragmentOffset: 0 }),
    ...(flowLabel === 0 ? {} : { flowLabel }),
    ...(chain.extensions.length > 0 ? { extensions: chain.extensions } : {}),
  };
  return withBody(header, chain.protocol, chain.payload);
}

function withBody(header: IpHeader, protocol: number, bytes: Uint8Array): IpPacket | Malformed {
  if (isFragment(header)) return { ...header, body: { kind: "raw", protocol, bytes } };
  const body = parseBody(protocol, bytes, header);
  return isMalformed(body) ? body : { ...header, body };
}

function parseUdpBody(bytes: Uint8Array, header: IpHeader): UdpBody | Malformed {
  const datagram = parseUdp(bytes, header);
  if (isMalformed(datagram)) return datagram;
  const { sourcePort, destinationPort } = datagram;
  return { kind: "udp", sourcePort, destinationPort, data: parseUdpData(datagram, header) };
}

// A datagram on DHCP's ports that is no DHCP message is still a datagram.
function parseUdpData({ sourcePort, destinationPort, payload }: UdpDatagram, header: IpHeader): UdpData {
  const ports = [DHCP_SERVER_PORT, DHCP_CLIENT_PORT];
  if (header.source.family === 4 && ports.includes(sourcePort) && ports.includes(destinationPort)) {
    const message = parseDhcp(payload);
    if (!isMalformed(message)) return { kind: "dhcp", message };
  }
  return { kind: "bytes", bytes: payload };
}

function parseTcpBody(bytes: Uint8Array, header: IpHeader): IpBody | Malformed {
  const segment = parseTcp(bytes, header);
  return isMalformed(segment) ? segment : { kind: "tcp", ...segment };
}

function parseIcmpBody(bytes: Uint8Array, header: IpHeader): IpBody | Malformed {
  const message = parseIcmp(bytes);
  if (isMalformed(message)) return message;
  const { type, code } = message;
  const content = parseContent(message, {
    echo: type === ICMP_ECHO_REQUEST || type === ICMP_ECHO_REPLY,
    error: isIcmpError(type),
    mtuBits: type === ICMP_UNREACHABLE && code === ICMP_FRAGMENTATION_NEEDED ? 0xffff : 0,
    room: quotationRoom(header),
  });
  return isMalformed(content) ? content : { kind: "icmp", type, code, content };
}

function parseIcmpv6Body(bytes: Uint8Array, header: IpHeader): IpBody | Malformed {
  const message = parseIcmpv6(bytes, header);
  if (isMalformed(message)) return message;
  const neighbour = parseNeighbour(message);
  if (!isMalformed(neighbour)) return { kind: "neighbour", message: neighbour };
  if (neighbour.malformed !== "unsupported") return neighbour;
  const { type, code } = message;
  const content = parseContent(message, {
    echo: type === ICMPV6_ECHO_REQUEST || type === ICMPV6_ECHO_REPLY,
    error: isIcmpv6Error(type),
    mtuBits: type === ICMPV6_TOO_BIG ? 0xffff_ffff : 0,
    room: quotationRoom(header),
  });
  return isMalformed(content) ? content : { kind: "icmp", type, code, content };
}

type Shape = {
  readonly echo: boolean;
  readonly error: boolean;
  /** Which of the 32 bits before a quotation are a next-hop MTU; 0 when none are. */
  readonly mtuBits: number;
  /** Bytes that a quotation has when it is written. */
  readonly room: number;
};

function parseContent({ bytes }: IcmpMessage, shape: Shape): IcmpContent | Malformed {
  if (!shape.echo && !shape.error) return { kind: "other", bytes };
  if (bytes.length < CONTENT_HEAD_LENGTH) return truncated("ICMP", CONTENT_HEAD_LENGTH, bytes.length);
  const view = viewOf(bytes);
  const data = bytes.slice(CONTENT_HEAD_LENGTH);
  if (shape.echo) return { kind: "echo", identifier: view.getUint16(0), sequence: view.getUint16(2), data };
  const word = view.getUint32(0);
  const rest = (word & ~shape.mtuBits) >>> 0;
  return {
    kind: "error",
    ...(shape.mtuBits === 0 ? {} : { mtu: (word & shape.mtuBits) >>> 0 }),
    ...(rest === 0 ? {} : { rest }),
    quoted: parseQuotation(data, shape.room),
  };
}

// A quotation becomes a packet only when nothing of it is lost by that.
function parseQuotation(bytes: Uint8Array, room: number): IpPacket | Uint8Array {
  const packet = bytes.length > room ? undefined : parseIp(bytes);
  return packet !== undefined && !isMalformed(packet) && sameBytes(emitIp(packet), bytes) ? packet : bytes;
}
