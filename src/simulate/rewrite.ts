/**
 * Packets with one end rewritten: an address and, where the protocol has one, a port or query identifier.
 */
import type { Address } from "../address/index.ts";
import { tupleOf } from "../protocol/index.ts";
import type { IcmpBody, IcmpContent, IpBody, IpPacket } from "../wire/index.ts";

/** An end of a connection. */
export type Endpoint = {
  /** Of either family. */
  readonly address: Address;
  /** Port or query identifier. */
  readonly port: number;
};

/** The packet with another source. */
export function withSource(packet: IpPacket, { address, port }: Endpoint): IpPacket {
  return { ...packet, source: address, body: bodyWith(packet.body, "sourcePort", port) };
}

/** The packet with another destination. */
export function withDestination(packet: IpPacket, { address, port }: Endpoint): IpPacket {
  return { ...packet, destination: address, body: bodyWith(packet.body, "destinationPort", port) };
}

function bodyWith(body: IpBody, end: "sourcePort" | "destinationPort", port: number): IpBody {
  switch (body.kind) {
    case "tcp":
    case "udp":
      return { ...body, [end]: port };
    case "icmp":
      return { ...body, content: contentWith(body, port) };
    case "raw":
      return body.protocol === PROTOCOL_SCTP ? { ...body, bytes: bytesWith(body.bytes, PORT_AT[end], port) } : body;
    default:
      return body;
  }
}

/**
 * A query has one identifier for both ends, and all queries of ICMP have it at the same place; of ICMPv6 the kernel's translator knows
 * that of an echo alone (from memory).
 */
function contentWith({ content, type }: IcmpBody, identifier: number): IcmpContent {
  switch (content.kind) {
    case "echo":
      return { ...content, identifier };
    case "error":
      return content;
    case "other":
      return isNodeInformation(type) ? content : { ...content, bytes: bytesWith(content.bytes, 0, identifier) };
  }
}

/** Types 139 and 140 (RFC 4620 section 4), which no message of ICMP for IPv4 has. */
function isNodeInformation(type: number): boolean {
  return type === 139 || type === 140;
}

const PROTOCOL_SCTP = 132;
const PORT_AT = { sourcePort: 0, destinationPort: 2 } as const; // RFC 9260 section 3.1

function bytesWith(bytes: Uint8Array, at: number, port: number): Uint8Array {
  if (bytes.length < 4) return bytes;
  const changed = bytes.slice();
  changed.set([port >> 8, port & 255], at);
  return changed;
}

/** The body of an answer that only has its ports turned round. */
export function turnedBody(packet: IpPacket): IpBody {
  const tuple = tupleOf(packet);
  if (tuple === undefined) return packet.body;
  const turned = bodyWith(packet.body, "sourcePort", tuple.destinationPort);
  return bodyWith(turned, "destinationPort", tuple.sourcePort);
}

/** An ICMP error whose quoted packet is changed. */
export function withQuoted(packet: IpPacket, change: (quoted: IpPacket) => IpPacket): IpPacket {
  const { body } = packet;
  if (body.kind !== "icmp" || body.content.kind !== "error" || body.content.quoted instanceof Uint8Array) return packet;
  return { ...packet, body: { ...body, content: { ...body.content, quoted: change(body.content.quoted) } } };
}
