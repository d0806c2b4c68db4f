/**
 * TCP header (RFC 9293 section 3.1, from memory): 20 bytes and options. `parseTcp` guarantees a right checksum and
 * options that fit. Options stay bytes; the maximum segment size can be read and replaced in them.
 */
import { bytesOf, concat, inBytes, put16, put32, refuseToEmit, viewOf, wordsOf } from "./bytes.ts";
import { type Ends, transportChecksum } from "./checksum.ts";
import { type Malformed, truncated } from "./malformed.ts";

/** Protocol number of TCP. */
export const PROTOCOL_TCP = 6;
/** Bytes of a header without options. */
export const TCP_HEADER_LENGTH = 20;

/** Flag: no more data from the sender. */
export const TCP_FIN = 0x001;
/** Flag: synchronise sequence numbers. */
export const TCP_SYN = 0x002;
/** Flag: reset the connection. */
export const TCP_RST = 0x004;
/** Flag: push. */
export const TCP_PSH = 0x008;
/** Flag: the acknowledgement number counts. */
export const TCP_ACK = 0x010;
/** Flag: the urgent pointer counts. */
export const TCP_URG = 0x020;
/** Flag: congestion experienced echo (RFC 3168, from memory). */
export const TCP_ECE = 0x040;
/** Flag: congestion window reduced (RFC 3168, from memory). */
export const TCP_CWR = 0x080;

const DESTINATION_PORT_AT = 2;
const SEQUENCE_AT = 4;
const ACKNOWLEDGEMENT_AT = 8;
const OFFSET_AT = 12; // header length in 4-byte words, then 12 bits of flags
const WINDOW_AT = 14;
const CHECKSUM_AT = 16;
const URGENT_AT = 18;
const LONGEST_OPTIONS = 40;
const FLAG_NAMES: readonly (readonly [flag: number, name: string])[] = [
  [TCP_SYN, "SYN"],
  [TCP_FIN, "FIN"],
  [TCP_RST, "RST"],
  [TCP_PSH, "PSH"],
  [TCP_ACK, "ACK"],
  [TCP_URG, "URG"],
  [TCP_ECE, "ECE"],
  [TCP_CWR, "CWR"],
];

/** A TCP segment. */
export type TcpSegment = {
  /** 0 to 65535. */
  readonly sourcePort: number;
  /** 0 to 65535. */
  readonly destinationPort: number;
  /** Bit set of `TCP_` constants, 12 bits; unnamed ones survive. */
  readonly flags: number;
  /** Sequence number, 32 bits. */
  readonly sequence: number;
  /** Acknowledgement number, 32 bits; counts only with `TCP_ACK`. */
  readonly acknowledgement: number;
  /** Window as sent, unscaled. */
  readonly window: number;
  /** Counts only with `TCP_URG`. Default: 0. */
  readonly urgentPointer?: number;
  /** Options as they stand, a multiple of 4 bytes, at most 40. */
  readonly options: Uint8Array;
  /** The segment's payload. */
  readonly data: Uint8Array;
};

/** Reads a segment that travelled between `ends`. */
export function parseTcp(bytes: Uint8Array, ends: Ends): TcpSegment | Malformed {
  if (bytes.length < TCP_HEADER_LENGTH) return truncated("TCP", TCP_HEADER_LENGTH, bytes.length);
  const view = viewOf(bytes);
  const word = view.getUint16(OFFSET_AT);
  const headerLength = (word >> 12) * 4;
  if (headerLength < TCP_HEADER_LENGTH)
    return { malformed: "length", protocol: "TCP", problem: `header length ${headerLength} is below 20` };
  if (headerLength > bytes.length) return truncated("TCP", headerLength, bytes.length);
  if (transportChecksum(ends, PROTOCOL_TCP, bytes) !== 0)
    return { malformed: "checksum", protocol: "TCP", problem: "checksum is wrong" };
  const urgentPointer = view.getUint16(URGENT_AT);
  return {
    sourcePort: view.getUint16(0),
    destinationPort: view.getUint16(DESTINATION_PORT_AT),
    flags: word & 0xfff,
    sequence: view.getUint32(SEQUENCE_AT),
    acknowledgement: view.getUint32(ACKNOWLEDGEMENT_AT),
    window: view.getUint16(WINDOW_AT),
    ...(urgentPointer === 0 ? {} : { urgentPointer }),
    options: bytes.slice(TCP_HEADER_LENGTH, headerLength),
    data: bytes.slice(headerLength),
  };
}

/** Writes a segment that travels between `ends`, checksum computed. */
export function emitTcp(segment: TcpSegment, ends: Ends): Uint8Array {
  const headerLength = TCP_HEADER_LENGTH + segment.options.length;
  if (segment.options.length % 4 !== 0 || segment.options.length > LONGEST_OPTIONS)
    refuseToEmit("TCP", "options of so many bytes", segment.options.length);
  if (segment.flags > 0xfff) refuseToEmit("TCP", "flags", segment.flags);
  const bytes = new Uint8Array(headerLength + segment.data.length);
  const view = viewOf(bytes);
  put16(view, 0, segment.sourcePort);
  put16(view, DESTINATION_PORT_AT, segment.destinationPort);
  put32(view, SEQUENCE_AT, segment.sequence);
  put32(view, ACKNOWLEDGEMENT_AT, segment.acknowledgement);
  put16(view, OFFSET_AT, ((headerLength / 4) << 12) | segment.flags);
  put16(view, WINDOW_AT, segment.window);
  put16(view, URGENT_AT, segment.urgentPointer ?? 0);
  bytes.set(segment.options, TCP_HEADER_LENGTH);
  bytes.set(segment.data, headerLength);
  put16(view, CHECKSUM_AT, transportChecksum(ends, PROTOCOL_TCP, bytes));
  return bytes;
}

/** One line. */
export function describeTcp(segment: TcpSegment): string {
  const flags = FLAG_NAMES.filter(([flag]) => (segment.flags & flag) !== 0).map(([, name]) => name);
  const data = segment.data.length === 0 ? "" : `, ${inBytes(segment.data.length)}`;
  const what = flags.length === 0 ? "no flags" : flags.join(" ");
  return `TCP from port ${segment.sourcePort} to port ${segment.destinationPort}, ${what}${data}`;
}

const OPTION_END = 0;
const OPTION_PAD = 1;
const OPTION_SEGMENT_SIZE = 2;

/** Options that hold just a maximum segment size. */
export function segmentSizeOptions(bytes: number): Uint8Array {
  return concat(bytesOf(OPTION_SEGMENT_SIZE, 4), wordsOf(bytes));
}

/** The maximum segment size that options announce, if they do. */
export function segmentSizeOf(options: Uint8Array): number | undefined {
  const at = segmentSizeAt(options);
  return at === undefined ? undefined : viewOf(options).getUint16(at);
}

/** The options with a maximum segment size of at most `bytes`; unchanged when they announce none or a smaller one. */
export function clampSegmentSize(options: Uint8Array, bytes: number): Uint8Array {
  const at = segmentSizeAt(options);
  if (at === undefined || viewOf(options).getUint16(at) <= bytes) return options;
  return concat(options.subarray(0, at), wordsOf(bytes), options.subarray(at + 2));
}

function segmentSizeAt(options: Uint8Array): number | undefined {
  let at = 0;
  while (at < options.length && options[at] !== OPTION_END) {
    const length = options[at] === OPTION_PAD ? 1 : (options[at + 1] ?? 0);
    if (options[at] === OPTION_SEGMENT_SIZE && length === 4 && at + 4 <= options.length) return at + 2;
    if (length === 0) return undefined;
    at += length;
  }
  return undefined;
}
