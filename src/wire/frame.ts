/**
 * The structured Ethernet frame that the simulator moves. Lengths, checksums and padding are not part of it;
 * `emitFrame` computes them. The frame check sequence is never written.
 */
import type { Hardware } from "../address/index.ts";
import { ARP_LENGTH, type ArpPacket, describeArp, emitArp, parseArp } from "./arp.ts";
import { type Bpdu, bpduLength, describeBpdu, emitBpdu, parseBpdu } from "./bpdu.ts";
import { inBytes } from "./bytes.ts";
import { describeIp } from "./describe-packet.ts";
import { emitIp, lengthOfIp } from "./emit-packet.ts";
import {
  describeEthernet,
  ETHERTYPE_ARP,
  ETHERTYPE_IPV4,
  ETHERTYPE_IPV6,
  ETHERTYPE_SLOW,
  type EthernetFrame,
  emitEthernet,
  ethernetLength,
  LENGTH_FIELD,
  parseEthernet,
  type Tag,
} from "./ethernet.ts";
import { describeLacpdu, emitLacpdu, LACPDU_LENGTH, type Lacpdu, parseLacpdu } from "./lacp.ts";
import { isMalformed, type Malformed } from "./malformed.ts";
import type { IpPacket } from "./packet.ts";
import { parseIp } from "./parse-packet.ts";
import {
  describeSession,
  ETHERTYPE_SESSION,
  emitSession,
  PPP_IPV4,
  PPP_IPV6,
  parseSession,
  SESSION_OVERHEAD,
} from "./pppoe.ts";

/** An Ethernet frame. */
export type Frame = {
  /** To which hardware address. */
  readonly destination: Hardware;
  /** From which hardware address. */
  readonly source: Hardware;
  /** VLAN tags, outermost first; empty for an untagged frame. */
  readonly tags: readonly Tag[];
  /** What the frame carries. */
  readonly payload: Payload;
};

/** What an Ethernet frame carries. */
export type Payload =
  | {
      /** EtherType 0x0806. */
      readonly kind: "arp";
      /** The packet. */
      readonly arp: ArpPacket;
    }
  | {
      /** EtherType 0x0800 or 0x86dd, after the packet's family. */
      readonly kind: "ip";
      /** The packet. */
      readonly packet: IpPacket;
    }
  | {
      /** EtherType 0x8864, PPP protocol 0x0021 or 0x0057 after the packet's family; other protocols stay bytes. */
      readonly kind: "session";
      /** Which PPPoE session. */
      readonly session: number;
      /** The packet. */
      readonly packet: IpPacket;
    }
  | {
      /** EtherType 0x8809, subtype 1. */
      readonly kind: "lacp";
      /** The protocol data unit. */
      readonly lacpdu: Lacpdu;
    }
  | {
      /** Length instead of EtherType, LLC 42 42 03. */
      readonly kind: "bpdu";
      /** The protocol data unit. */
      readonly bpdu: Bpdu;
    }
  | {
      /** Any other LLC frame: length instead of EtherType. */
      readonly kind: "llc";
      /** LLC header and what follows it; at most 1500 bytes. */
      readonly bytes: Uint8Array;
    }
  | {
      /** Any other EtherType. */
      readonly kind: "other";
      /** 0x0600 to 0xffff. */
      readonly etherType: number;
      /** Everything behind the EtherType, padding included. */
      readonly bytes: Uint8Array;
    };

/** The packet in a frame, bare or in a session; undefined: it carries none. */
export function packetIn({ payload }: Frame): IpPacket | undefined {
  return payload.kind === "ip" || payload.kind === "session" ? payload.packet : undefined;
}

/** Reads a frame without its check sequence. Unknown EtherTypes and protocols stay bytes; wrong checksums are refused. */
export function parseFrame(bytes: Uint8Array): Frame | Malformed {
  const outer = parseEthernet(bytes);
  if (isMalformed(outer)) return outer;
  const { destination, source, tags } = outer;
  const payload = parsePayload(outer);
  return isMalformed(payload) ? payload : { destination, source, tags, payload };
}

/** Writes a frame without its check sequence: lengths, checksums and padding computed. */
export function emitFrame(frame: Frame): Uint8Array {
  const { destination, source, tags, payload } = frame;
  return emitEthernet({ destination, source, tags, etherType: etherTypeOf(payload), payload: emitPayload(payload) });
}

/** One line: hardware addresses, tags, and what is inside. */
export function describeFrame(frame: Frame): string {
  return `${describeEthernet(frame)}: ${describePayload(frame.payload)}`;
}

/** Bytes that `emitFrame` writes: padding included, check sequence not. */
export function frameLength(frame: Frame): number {
  return ethernetLength(frame.tags.length, payloadLength(frame.payload));
}

/** The EtherType that announces a payload; `LENGTH_FIELD` for LLC. */
export function etherTypeOf(payload: Payload): number {
  switch (payload.kind) {
    case "arp":
      return ETHERTYPE_ARP;
    case "ip":
      return payload.packet.source.family === 4 ? ETHERTYPE_IPV4 : ETHERTYPE_IPV6;
    case "session":
      return ETHERTYPE_SESSION;
    case "lacp":
      return ETHERTYPE_SLOW;
    case "bpdu":
    case "llc":
      return LENGTH_FIELD;
    case "other":
      return payload.etherType;
  }
}

/** What stands in a frame's field for type or length: the EtherType, else how many bytes of LLC follow. */
export function typeFieldOf(payload: Payload): number {
  if (payload.kind === "bpdu") return bpduLength(payload.bpdu);
  return payload.kind === "llc" ? payload.bytes.length : etherTypeOf(payload);
}

function parsePayload(outer: EthernetFrame): Payload | Malformed {
  const known = parseKnown(outer);
  if (known !== undefined && !(isMalformed(known) && known.malformed === "unsupported")) return known;
  const { etherType, payload: bytes } = outer;
  return etherType === LENGTH_FIELD ? { kind: "llc", bytes } : { kind: "other", etherType, bytes };
}

function parseKnown({ etherType, payload }: EthernetFrame): Payload | Malformed | undefined {
  switch (etherType) {
    case ETHERTYPE_ARP: {
      const arp = parseArp(payload);
      return isMalformed(arp) ? arp : { kind: "arp", arp };
    }
    case ETHERTYPE_IPV4:
    case ETHERTYPE_IPV6:
      return parseIpPayload(etherType, payload);
    case ETHERTYPE_SESSION:
      return parseSessionPayload(payload);
    case ETHERTYPE_SLOW: {
      const lacpdu = parseLacpdu(payload);
      return isMalformed(lacpdu) ? lacpdu : { kind: "lacp", lacpdu };
    }
    case LENGTH_FIELD: {
      const bpdu = parseBpdu(payload);
      return isMalformed(bpdu) ? bpdu : { kind: "bpdu", bpdu };
    }
    default:
      return undefined;
  }
}

function parseIpPayload(etherType: number, bytes: Uint8Array): Payload | Malformed {
  const packet = parseIp(bytes);
  if (isMalformed(packet)) return packet;
  if ((packet.source.family === 4) === (etherType === ETHERTYPE_IPV4)) return { kind: "ip", packet };
  const problem = `version ${packet.source.family} behind EtherType 0x${etherType.toString(16).padStart(4, "0")}`;
  return { malformed: "value", protocol: "Ethernet", problem };
}

/** PPP frames that carry no packet (of LCP, say) are not taken apart. */
function parseSessionPayload(bytes: Uint8Array): Payload | Malformed | undefined {
  const outer = parseSession(bytes);
  if (isMalformed(outer)) return outer;
  const { session, protocol, payload } = outer;
  if (protocol !== PPP_IPV4 && protocol !== PPP_IPV6) return undefined;
  const packet = parseIp(payload);
  if (isMalformed(packet)) return packet;
  if (pppProtocolOf(packet) === protocol) return { kind: "session", session, packet };
  const problem = `version ${packet.source.family} behind PPP protocol 0x${protocol.toString(16).padStart(4, "0")}`;
  return { malformed: "value", protocol: "PPPoE", problem };
}

function pppProtocolOf({ source }: IpPacket): number {
  return source.family === 4 ? PPP_IPV4 : PPP_IPV6;
}

function emitPayload(payload: Payload): Uint8Array {
  switch (payload.kind) {
    case "arp":
      return emitArp(payload.arp);
    case "ip":
      return emitIp(payload.packet);
    case "session": {
      const { session, packet } = payload;
      return emitSession({ session, protocol: pppProtocolOf(packet), payload: emitIp(packet) });
    }
    case "lacp":
      return emitLacpdu(payload.lacpdu);
    case "bpdu":
      return emitBpdu(payload.bpdu);
    case "llc":
    case "other":
      return payload.bytes;
  }
}

function payloadLength(payload: Payload): number {
  switch (payload.kind) {
    case "arp":
      return ARP_LENGTH;
    case "ip":
      return lengthOfIp(payload.packet);
    case "session":
      return SESSION_OVERHEAD + lengthOfIp(payload.packet);
    case "lacp":
      return LACPDU_LENGTH;
    case "bpdu":
      return bpduLength(payload.bpdu);
    case "llc":
    case "other":
      return payload.bytes.length;
  }
}

function describePayload(payload: Payload): string {
  switch (payload.kind) {
    case "arp":
      return describeArp(payload.arp);
    case "ip":
      return describeIp(payload.packet);
    case "session":
      return `${describeSession(payload)}: ${describeIp(payload.packet)}`;
    case "lacp":
      return describeLacpdu(payload.lacpdu);
    case "bpdu":
      return describeBpdu(payload.bpdu);
    case "llc":
      return `LLC, ${inBytes(payload.bytes.length)}`;
    case "other":
      return `EtherType 0x${payload.etherType.toString(16).padStart(4, "0")}, ${inBytes(payload.bytes.length)}`;
  }
}
