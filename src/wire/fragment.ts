/**
 * Fragments: a packet cut to fit a link (RFC 791 section 3.2, RFC 8200 section 4.5) and put together again. Whether it
 * may be cut (`dontFragment`, a router under IPv6) is the caller's question.
 */
import { concat, viewOf } from "./bytes.ts";
import { emitBody, headersLength, lengthOfIp, protocolOf } from "./emit-packet.ts";
import { FRAGMENT_HEADER_LENGTH } from "./ipv6-extensions.ts";
import { isMalformed, type Malformed } from "./malformed.ts";
import type { IpPacket } from "./packet.ts";
import { parseBody } from "./parse-packet.ts";

const UNIT = 8; // fragment offsets count blocks of 8 bytes
const COPIED = 0x80; // option bit: repeat it in every fragment, RFC 791 section 3.1

/** Pieces of at most `mtu` bytes in order; the packet itself when it fits. Throws when no piece would fit. */
export function fragmentPacket(packet: IpPacket, mtu: number): readonly IpPacket[] {
  if (lengthOfIp(packet) <= mtu) return [packet];
  const body = emitBody(packet);
  const protocol = protocolOf(packet.body, packet.source.family);
  const pieces: IpPacket[] = [];
  for (let at = 0; at < body.length; ) {
    const header = at === 0 ? packet : withCopiedOptions(packet);
    const room = roomFor(header, mtu);
    const last = body.length - at <= room;
    const end = last ? body.length : at + Math.floor(room / UNIT) * UNIT;
    if (end <= at) throw new RangeError(`no fragment fits into ${mtu} bytes`);
    pieces.push({
      ...header,
      moreFragments: packet.moreFragments || !last,
      fragmentOffset: packet.fragmentOffset + at / UNIT,
      body: { kind: "raw", protocol, bytes: body.slice(at, end) },
    });
    at = end;
  }
  return pieces;
}

/** The whole packet, from all its fragments in any order; undefined while a piece is missing. */
export function joinFragments(fragments: readonly IpPacket[]): IpPacket | Malformed | undefined {
  const ordered = [...fragments].sort((one, other) => one.fragmentOffset - other.fragmentOffset);
  const first = ordered[0];
  const bytes = joinBytes(ordered);
  if (first === undefined || bytes === undefined) return undefined;
  const identification = first.source.family === 6 ? 0 : first.identification;
  const header = { ...first, identification, moreFragments: false, fragmentOffset: 0 };
  const body = parseBody(protocolOf(first.body, first.source.family), bytes, header);
  return isMalformed(body) ? body : { ...header, body };
}

function joinBytes(ordered: readonly IpPacket[]): Uint8Array | undefined {
  const parts: Uint8Array[] = [];
  let at = 0;
  for (const piece of ordered) {
    const body = emitBody(piece);
    if (piece.fragmentOffset * UNIT !== at) return undefined;
    parts.push(body);
    at += body.length;
  }
  return ordered.at(-1)?.moreFragments === false ? concat(...parts) : undefined;
}

function roomFor(header: IpPacket, mtu: number): number {
  const marked = header.moreFragments || header.fragmentOffset > 0;
  const fragmentHeader = header.source.family === 6 && !marked ? FRAGMENT_HEADER_LENGTH : 0;
  return mtu - headersLength(header) - fragmentHeader;
}

function withCopiedOptions(packet: IpPacket): IpPacket {
  if (packet.options === undefined) return packet;
  const { options, ...rest } = packet;
  const copied = copiedOptions(options);
  return copied.length === 0 ? rest : { ...rest, options: copied };
}

function copiedOptions(options: Uint8Array): Uint8Array {
  const view = viewOf(options);
  const kept: Uint8Array[] = [];
  let at = 0;
  while (at < options.length && view.getUint8(at) !== 0) {
    // Pad (1) is a single byte; every other option has a length that counts itself.
    const length = view.getUint8(at) === 1 || at + 1 === options.length ? 1 : Math.max(2, view.getUint8(at + 1));
    if ((view.getUint8(at) & COPIED) !== 0) kept.push(options.subarray(at, at + length));
    at += length;
  }
  const copied = concat(...kept);
  return concat(copied, new Uint8Array((4 - (copied.length % 4)) % 4));
}
