/**
 * IPv4 header (RFC 791 section 3.1): 20 bytes and options. `parseIpv4` guarantees a right header checksum and that the
 * payload is exactly what the total length claims.
 */
import { type Address, formatAddress } from "../address/index.ts";
import { getAddress4, put8, put16, refuseToEmit, setAddress, viewOf } from "./bytes.ts";
import { internetChecksum } from "./checksum.ts";
import { type Malformed, truncated } from "./malformed.ts";

/** Bytes of a header without options. */
export const IPV4_HEADER_LENGTH = 20;

const TOTAL_LENGTH_AT = 2;
const IDENTIFICATION_AT = 4;
const FRAGMENT_AT = 6;
const HOP_LIMIT_AT = 8;
const PROTOCOL_AT = 9;
const CHECKSUM_AT = 10;
const SOURCE_AT = 12;
const DESTINATION_AT = 16;
const LONGEST_OPTIONS = 40;
const LONGEST_PACKET = 65535;

/** An IPv4 packet with its payload unread. */
export type Ipv4Packet = {
  /** Who sends. */
  readonly source: Address;
  /** Who is to receive. */
  readonly destination: Address;
  /** Time to live. */
  readonly hopLimit: number;
  /** Protocol of the payload. */
  readonly protocol: number;
  /** Ties fragments together, 16 bits. */
  readonly identification: number;
  /** The reserved flag, which has to be false. */
  readonly reserved: boolean;
  /** Flag DF. */
  readonly dontFragment: boolean;
  /** Flag MF. */
  readonly moreFragments: boolean;
  /** In units of 8 bytes. */
  readonly fragmentOffset: number;
  /** Type of service, 8 bits. */
  readonly trafficClass: number;
  /** A multiple of 4 bytes, at most 40; padding included. */
  readonly options: Uint8Array;
  /** What the packet carries. */
  readonly payload: Uint8Array;
};

/** Reads a packet; bytes behind its total length are padding. */
export function parseIpv4(bytes: Uint8Array): Ipv4Packet | Malformed {
  if (bytes.length < IPV4_HEADER_LENGTH) return truncated("IPv4", IPV4_HEADER_LENGTH, bytes.length);
  const view = viewOf(bytes);
  const headerLength = (view.getUint8(0) & 0xf) * 4;
  const totalLength = view.getUint16(TOTAL_LENGTH_AT);
  const fault = checkHeader(bytes, headerLength, totalLength);
  if (fault !== undefined) return fault;
  const fragment = view.getUint16(FRAGMENT_AT);
  return {
    source: getAddress4(view, SOURCE_AT),
    destination: getAddress4(view, DESTINATION_AT),
    hopLimit: view.getUint8(HOP_LIMIT_AT),
    protocol: view.getUint8(PROTOCOL_AT),
    identification: view.getUint16(IDENTIFICATION_AT),
    reserved: (fragment & 0x8000) !== 0,
    dontFragment: (fragment & 0x4000) !== 0,
    moreFragments: (fragment & 0x2000) !== 0,
    fragmentOffset: fragment & 0x1fff,
    trafficClass: view.getUint8(1),
    options: bytes.slice(IPV4_HEADER_LENGTH, headerLength),
    payload: bytes.slice(headerLength, totalLength),
  };
}

/** Writes a packet, total length and checksum computed. */
export function emitIpv4(packet: Ipv4Packet): Uint8Array {
  const headerLength = IPV4_HEADER_LENGTH + packet.options.length;
  if (packet.options.length % 4 !== 0 || packet.options.length > LONGEST_OPTIONS)
    refuseToEmit("IPv4", "options of so many bytes", packet.options.length);
  const bytes = new Uint8Array(headerLength + packet.payload.length);
  if (bytes.length > LONGEST_PACKET) refuseToEmit("IPv4", "total length", bytes.length);
  const view = viewOf(bytes);
  put8(view, 0, 0x40 | (headerLength / 4));
  put8(view, 1, packet.trafficClass);
  put16(view, TOTAL_LENGTH_AT, bytes.length);
  put16(view, IDENTIFICATION_AT, packet.identification);
  put16(view, FRAGMENT_AT, fragmentWord(packet));
  put8(view, HOP_LIMIT_AT, packet.hopLimit);
  put8(view, PROTOCOL_AT, packet.protocol);
  setAddress(view, SOURCE_AT, packet.source);
  setAddress(view, DESTINATION_AT, packet.destination);
  bytes.set(packet.options, IPV4_HEADER_LENGTH);
  put16(view, CHECKSUM_AT, internetChecksum(bytes.subarray(0, headerLength)));
  bytes.set(packet.payload, headerLength);
  return bytes;
}

/** One line about the header. */
export function describeIpv4(packet: Ipv4Packet): string {
  return `${formatAddress(packet.source)} to ${formatAddress(packet.destination)}, protocol ${packet.protocol}`;
}

function checkHeader(bytes: Uint8Array, headerLength: number, totalLength: number): Malformed | undefined {
  const version = viewOf(bytes).getUint8(0) >> 4;
  if (version !== 4) return { malformed: "value", protocol: "IPv4", problem: `version is ${version}` };
  if (headerLength < IPV4_HEADER_LENGTH)
    return { malformed: "length", protocol: "IPv4", problem: `header length ${headerLength} is below 20` };
  if (totalLength < headerLength)
    return { malformed: "length", protocol: "IPv4", problem: `total length ${totalLength} is below the header's` };
  if (totalLength > bytes.length) return truncated("IPv4", totalLength, bytes.length);
  if (internetChecksum(bytes.subarray(0, headerLength)) !== 0)
    return { malformed: "checksum", protocol: "IPv4", problem: "header checksum is wrong" };
  return undefined;
}

function fragmentWord(packet: Ipv4Packet): number {
  if (packet.fragmentOffset > 0x1fff) refuseToEmit("IPv4", "fragment offset", packet.fragmentOffset);
  const flags =
    (packet.reserved ? 0x8000 : 0) | (packet.dontFragment ? 0x4000 : 0) | (packet.moreFragments ? 0x2000 : 0);
  return flags | packet.fragmentOffset;
}
