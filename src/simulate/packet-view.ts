/**
 * What conditions can look at, taken out of a packet once: numbers as plain numbers where they fit (-1: the packet
 * has no such field), addresses by family. `PacketFields` is the same for people and tests; `viewOfFields` joins them.
 */
import { addressKey, FAMILY_KEYS } from "../address/index.ts";
import type { NameField, NumberField } from "../network/index.ts";
import {
  ETHERTYPE_IPV4,
  ETHERTYPE_IPV6,
  type IpPacket,
  lengthOfIp,
  neighbourType,
  PROTOCOL_TCP,
  PROTOCOL_UDP,
  protocolOf,
} from "../wire/index.ts";

/** Values of the fields that a packet has; absent: it has no such field. */
export type PacketFields = { readonly [Field in NumberField]?: bigint } & {
  readonly [Field in NameField]?: readonly string[];
};

/** The fields of one packet at one step. */
export type PacketView = {
  /** 4 or 6. */
  family: number;
  /** Source as an IPv4 number; -1 for IPv6. */
  source4: number;
  /** Source key of an IPv6 packet; -1n for IPv4. */
  source6: bigint;
  /** Destination as an IPv4 number; -1 for IPv6. */
  destination4: number;
  /** Destination key of an IPv6 packet; -1n for IPv4. */
  destination6: bigint;
  /** Protocol or next header number. */
  protocol: number;
  /** Of TCP, UDP and SCTP. */
  sourcePort: number;
  /** Of TCP, UDP and SCTP. */
  destinationPort: number;
  /** Of ICMP and ICMPv6. */
  icmpType: number;
  /** Of ICMP and ICMPv6. */
  icmpCode: number;
  /** Bits of the TCP header. */
  tcpFlags: number;
  /** As it is at this step. */
  hopLimit: number;
  /** Total length of the IP packet in bytes. */
  length: number;
  /** 0x0800 or 0x86dd. */
  etherType: number;
  /** As `match.ts` of the description counts. */
  vlan: number;
  /** Of the frame, where it is known. */
  sourceHardware: number;
  /** Of the frame, where it is known. */
  destinationHardware: number;
  /** Id of the interface it came in by, at most one. */
  ingress: readonly string[];
  /** Id of the interface it leaves by, at most one. */
  egress: readonly string[];
  /** State of its connection, at most one. */
  state: readonly string[];
  /** Ends of its connection that are rewritten. */
  translated: readonly string[];
};

/** Protocols whose first four bytes are ports: RFC 793, RFC 768, RFC 4960. */
const PROTOCOL_SCTP = 132;
const NO_NAMES: readonly string[] = [];

/** A view without any field. */
export function emptyView(): PacketView {
  return {
    family: -1,
    source4: -1,
    source6: -1n,
    destination4: -1,
    destination6: -1n,
    protocol: -1,
    sourcePort: -1,
    destinationPort: -1,
    icmpType: -1,
    icmpCode: -1,
    tcpFlags: -1,
    hopLimit: -1,
    length: -1,
    etherType: -1,
    vlan: -1,
    sourceHardware: -1,
    destinationHardware: -1,
    ingress: NO_NAMES,
    egress: NO_NAMES,
    state: NO_NAMES,
    translated: NO_NAMES,
  };
}

/** Writes a packet's own fields into a view; the names and the frame's fields stay as they are. */
export function readPacket(view: PacketView, packet: IpPacket): void {
  const { source, destination, body } = packet;
  view.family = source.family;
  view.etherType = source.family === 4 ? ETHERTYPE_IPV4 : ETHERTYPE_IPV6;
  view.source4 = source.family === 4 ? Number(source.value) : -1;
  view.source6 = source.family === 6 ? addressKey(source) : -1n;
  view.destination4 = destination.family === 4 ? Number(destination.value) : -1;
  view.destination6 = destination.family === 6 ? addressKey(destination) : -1n;
  view.protocol = protocolOf(body, source.family);
  view.hopLimit = packet.hopLimit;
  view.length = lengthOfIp(packet);
  view.sourcePort = -1;
  view.destinationPort = -1;
  view.icmpType = -1;
  view.icmpCode = -1;
  view.tcpFlags = -1;
  readBody(view, packet);
}

function readBody(view: PacketView, { body, fragmentOffset }: IpPacket): void {
  switch (body.kind) {
    case "tcp":
      view.tcpFlags = body.flags;
      view.sourcePort = body.sourcePort;
      view.destinationPort = body.destinationPort;
      return;
    case "udp":
      view.sourcePort = body.sourcePort;
      view.destinationPort = body.destinationPort;
      return;
    case "icmp":
      view.icmpType = body.type;
      view.icmpCode = body.code;
      return;
    case "neighbour":
      view.icmpType = neighbourType(body.message);
      view.icmpCode = 0;
      return;
    case "raw":
      // The first fragment holds the header, later ones do not.
      if (fragmentOffset === 0) readRaw(view, body.protocol, body.bytes);
      return;
  }
}

function readRaw(view: PacketView, protocol: number, bytes: Uint8Array): void {
  if (protocol === PROTOCOL_TCP || protocol === PROTOCOL_UDP || protocol === PROTOCOL_SCTP) {
    if (bytes.length < 4) return;
    view.sourcePort = ((bytes[0] ?? 0) << 8) | (bytes[1] ?? 0);
    view.destinationPort = ((bytes[2] ?? 0) << 8) | (bytes[3] ?? 0);
    if (protocol === PROTOCOL_TCP && bytes.length > 13) {
      view.tcpFlags = (((bytes[12] ?? 0) & 0xf) << 8) | (bytes[13] ?? 0);
    }
    return;
  }
  if (protocol !== ICMP_PROTOCOLS[view.family] || bytes.length < 2) return;
  view.icmpType = bytes[0] ?? -1;
  view.icmpCode = bytes[1] ?? -1;
}

const ICMP_PROTOCOLS: Readonly<Record<number, number>> = { 4: 1, 6: 58 };

/** The view of plain field values. */
export function viewOfFields(fields: PacketFields): PacketView {
  const view = emptyView();
  const number = (field: NumberField): number => Number(fields[field] ?? -1n);
  return {
    ...view,
    ...addressOf(fields.source, "source4", "source6"),
    ...addressOf(fields.destination, "destination4", "destination6"),
    family: number("family"),
    protocol: number("protocol"),
    sourcePort: number("sourcePort"),
    destinationPort: number("destinationPort"),
    icmpType: number("icmpType"),
    icmpCode: number("icmpCode"),
    tcpFlags: number("tcpFlags"),
    hopLimit: number("hopLimit"),
    length: number("length"),
    etherType: number("etherType"),
    vlan: number("vlan"),
    sourceHardware: number("sourceHardware"),
    destinationHardware: number("destinationHardware"),
    ingress: fields.ingress ?? NO_NAMES,
    egress: fields.egress ?? NO_NAMES,
    state: fields.state ?? NO_NAMES,
    translated: fields.translated ?? NO_NAMES,
  };
}

function addressOf(key: bigint | undefined, v4: string, v6: string): Record<string, number | bigint> {
  if (key === undefined) return {};
  return key <= FAMILY_KEYS[4][1] ? { [v4]: Number(key) } : { [v6]: key };
}
