/**
 * UDP header (RFC 768): 8 bytes, checksum optional over IPv4 only. `parseUdp` guarantees that the payload is what the
 * length field claims.
 */
import { inBytes, put16, refuseToEmit, viewOf } from "./bytes.ts";
import { type Ends, transportChecksum } from "./checksum.ts";
import { type Malformed, truncated } from "./malformed.ts";

/** Protocol number of UDP. */
export const PROTOCOL_UDP = 17;
/** Bytes of the header. */
export const UDP_HEADER_LENGTH = 8;

const DESTINATION_PORT_AT = 2;
const LENGTH_AT = 4; // claims header + payload, in bytes
const CHECKSUM_AT = 6;
const LONGEST_DATAGRAM = 65535;

/** A datagram with its payload unread. */
export type UdpDatagram = {
  /** 0 to 65535. */
  readonly sourcePort: number;
  /** 0 to 65535. */
  readonly destinationPort: number;
  /** What the datagram carries. */
  readonly payload: Uint8Array;
};

/** Reads a datagram that travelled between `ends`; bytes behind its length are ignored. */
export function parseUdp(bytes: Uint8Array, ends: Ends): UdpDatagram | Malformed {
  if (bytes.length < UDP_HEADER_LENGTH) return truncated("UDP", UDP_HEADER_LENGTH, bytes.length);
  const view = viewOf(bytes);
  const length = view.getUint16(LENGTH_AT);
  if (length < UDP_HEADER_LENGTH)
    return { malformed: "length", protocol: "UDP", problem: `length ${length} is below the header's` };
  if (length > bytes.length) return truncated("UDP", length, bytes.length);
  const fault = checkSum(bytes.subarray(0, length), ends);
  if (fault !== undefined) return fault;
  return {
    sourcePort: view.getUint16(0),
    destinationPort: view.getUint16(DESTINATION_PORT_AT),
    payload: bytes.slice(UDP_HEADER_LENGTH, length),
  };
}

/** Writes a datagram that travels between `ends`, length and checksum computed. */
export function emitUdp(datagram: UdpDatagram, ends: Ends): Uint8Array {
  const bytes = new Uint8Array(UDP_HEADER_LENGTH + datagram.payload.length);
  if (bytes.length > LONGEST_DATAGRAM) refuseToEmit("UDP", "length", bytes.length);
  const view = viewOf(bytes);
  put16(view, 0, datagram.sourcePort);
  put16(view, DESTINATION_PORT_AT, datagram.destinationPort);
  put16(view, LENGTH_AT, bytes.length);
  bytes.set(datagram.payload, UDP_HEADER_LENGTH);
  // Zero means "no checksum", so a sum of zero is sent as its other form, all ones.
  put16(view, CHECKSUM_AT, transportChecksum(ends, PROTOCOL_UDP, bytes) || 0xffff);
  return bytes;
}

/** One line. */
export function describeUdp(datagram: UdpDatagram): string {
  const { sourcePort, destinationPort, payload } = datagram;
  return `UDP from port ${sourcePort} to port ${destinationPort}, ${inBytes(payload.length)}`;
}

function checkSum(datagram: Uint8Array, ends: Ends): Malformed | undefined {
  const absent = viewOf(datagram).getUint16(CHECKSUM_AT) === 0;
  if (absent && ends.source.family === 4) return undefined;
  if (absent) return { malformed: "checksum", protocol: "UDP", problem: "no checksum, which IPv6 requires" };
  if (transportChecksum(ends, PROTOCOL_UDP, datagram) === 0) return undefined;
  return { malformed: "checksum", protocol: "UDP", problem: "checksum is wrong" };
}
