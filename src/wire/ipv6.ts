/**
 * IPv6 header (RFC 8200 section 3): 40 bytes. `parseIpv6` guarantees that the payload is exactly what the payload
 * length claims. Extension headers are part of the payload here; `ipv6-extensions.ts` takes them apart.
 */
import { type Address, formatAddress } from "../address/index.ts";
import { getAddress6, put8, put16, put32, refuseToEmit, setAddress, viewOf } from "./bytes.ts";
import { type Malformed, truncated } from "./malformed.ts";

/** Bytes of the header. */
export const IPV6_HEADER_LENGTH = 40;
/** Every IPv6 link carries packets of this size. RFC 8200 section 5. */
export const IPV6_LEAST_MTU = 1280;

const PAYLOAD_LENGTH_AT = 4;
const NEXT_HEADER_AT = 6;
const HOP_LIMIT_AT = 7;
const SOURCE_AT = 8;
const DESTINATION_AT = 24;
const LONGEST_PAYLOAD = 65535;

/** An IPv6 packet with its payload unread. */
export type Ipv6Packet = {
  /** Who sends. */
  readonly source: Address;
  /** Who is to receive. */
  readonly destination: Address;
  /** Hop limit. */
  readonly hopLimit: number;
  /** 8 bits. */
  readonly trafficClass: number;
  /** 20 bits. */
  readonly flowLabel: number;
  /** Protocol of the payload, or number of the first extension header. */
  readonly nextHeader: number;
  /** Extension headers and what the packet carries. */
  readonly payload: Uint8Array;
};

/** Reads a packet; bytes behind its payload length are padding. */
export function parseIpv6(bytes: Uint8Array): Ipv6Packet | Malformed {
  if (bytes.length < IPV6_HEADER_LENGTH) return truncated("IPv6", IPV6_HEADER_LENGTH, bytes.length);
  const view = viewOf(bytes);
  const first = view.getUint32(0);
  if (first >>> 28 !== 6) return { malformed: "value", protocol: "IPv6", problem: `version is ${first >>> 28}` };
  const length = IPV6_HEADER_LENGTH + view.getUint16(PAYLOAD_LENGTH_AT);
  if (length > bytes.length) return truncated("IPv6", length, bytes.length);
  return {
    source: getAddress6(view, SOURCE_AT),
    destination: getAddress6(view, DESTINATION_AT),
    hopLimit: view.getUint8(HOP_LIMIT_AT),
    trafficClass: (first >>> 20) & 0xff,
    flowLabel: first & 0xfffff,
    nextHeader: view.getUint8(NEXT_HEADER_AT),
    payload: bytes.slice(IPV6_HEADER_LENGTH, length),
  };
}

/** Writes a packet, payload length computed. */
export function emitIpv6(packet: Ipv6Packet): Uint8Array {
  if (packet.payload.length > LONGEST_PAYLOAD) refuseToEmit("IPv6", "payload length", packet.payload.length);
  if (packet.flowLabel > 0xfffff) refuseToEmit("IPv6", "flow label", packet.flowLabel);
  const bytes = new Uint8Array(IPV6_HEADER_LENGTH + packet.payload.length);
  const view = viewOf(bytes);
  put32(view, 0, (0x6000_0000 | (packet.trafficClass << 20) | packet.flowLabel) >>> 0);
  put16(view, PAYLOAD_LENGTH_AT, packet.payload.length);
  put8(view, NEXT_HEADER_AT, packet.nextHeader);
  put8(view, HOP_LIMIT_AT, packet.hopLimit);
  setAddress(view, SOURCE_AT, packet.source);
  setAddress(view, DESTINATION_AT, packet.destination);
  bytes.set(packet.payload, IPV6_HEADER_LENGTH);
  return bytes;
}

/** One line about the header. */
export function describeIpv6(packet: Ipv6Packet): string {
  return `${formatAddress(packet.source)} to ${formatAddress(packet.destination)}, next header ${packet.nextHeader}`;
}
