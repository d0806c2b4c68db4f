/**
 * Structured IP packets to bytes, and their length without writing them. An error quotes as much of a packet as
 * RFC 1812 section 4.3.2.3 (576 bytes in all) and RFC 4443 section 2.4 (1280 bytes, from memory) allow.
 */
import type { Family } from "../address/index.ts";
import { concat, put32, viewOf, wordsOf } from "./bytes.ts";
import { dhcpLength, emitDhcp } from "./dhcp.ts";
import { emitIcmp, ICMP_HEADER_LENGTH, type IcmpMessage, PROTOCOL_ICMP } from "./icmp.ts";
import { emitIcmpv6, PROTOCOL_ICMPV6 } from "./icmpv6.ts";
import { emitIpv4, IPV4_HEADER_LENGTH } from "./ipv4.ts";
import { emitIpv6, IPV6_HEADER_LENGTH, IPV6_LEAST_MTU } from "./ipv6.ts";
import { emitExtensions, extensionsLength } from "./ipv6-extensions.ts";
import { emitNeighbour } from "./neighbour.ts";
import type { IcmpBody, IcmpContent, IpBody, IpHeader, IpPacket, UdpData } from "./packet.ts";
import { emitTcp, PROTOCOL_TCP, TCP_HEADER_LENGTH } from "./tcp.ts";
import { emitUdp, PROTOCOL_UDP, UDP_HEADER_LENGTH } from "./udp.ts";

const NONE = new Uint8Array(0);
const ERROR_FIELDS_LENGTH = 8; // type, code, checksum and 32 bits, before the quotation
const LONGEST_ERROR_IPV4 = 576;

/** Writes a packet: lengths and all checksums computed. */
export function emitIp(packet: IpPacket): Uint8Array {
  const payload = emitBody(packet);
  return packet.source.family === 4 ? emitAsIpv4(packet, payload) : emitAsIpv6(packet, payload);
}

/** Bytes that `emitIp` writes: the total length of the packet. */
export function lengthOfIp(packet: IpPacket): number {
  return headersLength(packet) + bodyLength(packet);
}

/** Bytes of the IP header with options, extension headers and fragment header. */
export function headersLength(packet: IpHeader): number {
  if (packet.source.family === 4) return IPV4_HEADER_LENGTH + (packet.options?.length ?? 0);
  return IPV6_HEADER_LENGTH + extensionsLength(packet.extensions ?? [], isFragment(packet));
}

/** Writes what the packet carries, its own header and checksum included. */
export function emitBody(packet: IpPacket): Uint8Array {
  const { body } = packet;
  switch (body.kind) {
    case "udp":
      return emitUdp({ ...body, payload: emitUdpData(body.data) }, packet);
    case "tcp":
      return emitTcp(body, packet);
    case "icmp":
      return emitMessage({ type: body.type, code: body.code, bytes: emitContent(body, packet) }, packet);
    case "neighbour":
      return emitMessage(emitNeighbour(body.message), packet);
    case "raw":
      return body.bytes;
  }
}

/** Whether the packet is a piece of a larger one. */
export function isFragment(packet: IpHeader): boolean {
  return packet.moreFragments || packet.fragmentOffset > 0;
}

/** Protocol or next header number of a body. */
export function protocolOf(body: IpBody, family: Family): number {
  switch (body.kind) {
    case "udp":
      return PROTOCOL_UDP;
    case "tcp":
      return PROTOCOL_TCP;
    case "icmp":
      return family === 4 ? PROTOCOL_ICMP : PROTOCOL_ICMPV6;
    case "neighbour":
      return PROTOCOL_ICMPV6;
    case "raw":
      return body.protocol;
  }
}

function emitAsIpv4(packet: IpPacket, payload: Uint8Array): Uint8Array {
  const protocol = protocolOf(packet.body, 4);
  return emitIpv4({ ...packet, protocol, reserved: false, options: packet.options ?? NONE, payload });
}

function emitAsIpv6(packet: IpPacket, body: Uint8Array): Uint8Array {
  const { fragmentOffset, moreFragments, identification } = packet;
  const { nextHeader, payload } = emitExtensions({
    extensions: packet.extensions ?? [],
    ...(isFragment(packet) ? { fragment: { fragmentOffset, moreFragments, identification } } : {}),
    protocol: protocolOf(packet.body, 6),
    payload: body,
  });
  return emitIpv6({ ...packet, flowLabel: packet.flowLabel ?? 0, nextHeader, payload });
}

function emitUdpData(data: UdpData): Uint8Array {
  return data.kind === "dhcp" ? emitDhcp(data.message) : data.bytes;
}

function emitMessage(message: IcmpMessage, packet: IpPacket): Uint8Array {
  return packet.source.family === 4 ? emitIcmp(message) : emitIcmpv6(message, packet);
}

function emitContent({ content }: IcmpBody, packet: IpPacket): Uint8Array {
  switch (content.kind) {
    case "echo":
      return concat(wordsOf(content.identifier, content.sequence), content.data);
    case "error":
      return concat(errorFields(content), quotation(content.quoted, packet));
    case "other":
      return content.bytes;
  }
}

function errorFields(content: Extract<IcmpContent, { kind: "error" }>): Uint8Array {
  const bytes = new Uint8Array(4);
  put32(viewOf(bytes), 0, ((content.rest ?? 0) | (content.mtu ?? 0)) >>> 0);
  return bytes;
}

// Bytes were quoted by somebody already, who has cut them; a packet is cut here.
function quotation(quoted: IpPacket | Uint8Array, around: IpHeader): Uint8Array {
  return quoted instanceof Uint8Array ? quoted : emitIp(quoted).subarray(0, quotationRoom(around));
}

/** Bytes of another packet that an error with this header may quote. */
export function quotationRoom(around: IpHeader): number {
  const longest = around.source.family === 4 ? LONGEST_ERROR_IPV4 : IPV6_LEAST_MTU;
  return longest - headersLength(around) - ERROR_FIELDS_LENGTH;
}

function bodyLength(packet: IpPacket): number {
  const { body } = packet;
  switch (body.kind) {
    case "udp":
      return UDP_HEADER_LENGTH + (body.data.kind === "dhcp" ? dhcpLength(body.data.message) : body.data.bytes.length);
    case "tcp":
      return TCP_HEADER_LENGTH + body.options.length + body.data.length;
    case "icmp":
      return ICMP_HEADER_LENGTH + contentLength(body.content, packet);
    case "neighbour":
      return ICMP_HEADER_LENGTH + emitNeighbour(body.message).bytes.length;
    case "raw":
      return body.bytes.length;
  }
}

function contentLength(content: IcmpContent, packet: IpPacket): number {
  if (content.kind === "echo") return 4 + content.data.length;
  if (content.kind === "other") return content.bytes.length;
  if (content.quoted instanceof Uint8Array) return 4 + content.quoted.length;
  return 4 + Math.min(lengthOfIp(content.quoted), quotationRoom(packet));
}
