/**
 * How a bond picks the member for a frame: the formulas of the kernel for its three policies (kernel fact 45, 288 of
 * 288 flows agreed; IPv6 words are folded by exclusive or, from memory). The member is the hash modulo their number.
 */
import type { Address } from "../address/index.ts";
import type { Bond } from "../network/index.ts";
import { etherTypeOf, type Frame, type IpBody, type IpPacket, isFragment } from "../wire/index.ts";

/** The hash of a frame, an unsigned 32-bit number. */
export function bondHash(policy: Bond["hash"], frame: Frame): number {
  const { payload } = frame;
  if (policy === "layer2" || payload.kind !== "ip") return layer2(frame);
  const start = policy === "layer2+3" ? layer2(frame) : portsWord(payload.packet);
  const folded = fold(start ^ addressWord(payload.packet.source) ^ addressWord(payload.packet.destination));
  return policy === "layer3+4" ? folded >>> 1 : folded;
}

function layer2(frame: Frame): number {
  const last = Number(frame.source & 0xffn) ^ Number(frame.destination & 0xffn);
  return (last ^ (etherTypeOf(frame.payload) ?? 0)) >>> 0;
}

function fold(hash: number): number {
  const once = hash ^ (hash >>> 16);
  return (once ^ (once >>> 8)) >>> 0;
}

/** The address as little-endian 32-bit words, folded into one. */
function addressWord({ family, value }: Address): number {
  if (family === 4) return swap(Number(value));
  let word = 0;
  for (let rest = value; rest > 0n; rest >>= 32n) word ^= swap(Number(rest & 0xffffffffn));
  return word;
}

function swap(word: number): number {
  return ((word & 0xff) << 24) | ((word & 0xff00) << 8) | ((word >>> 8) & 0xff00) | (word >>> 24);
}

/** Both ports as one little-endian word; type, code and identifier of a query; 0 for fragments and the rest. */
function portsWord(packet: IpPacket): number {
  return isFragment(packet) ? 0 : wordOf(packet.body);
}

function wordOf(body: IpBody): number {
  switch (body.kind) {
    case "tcp":
    case "udp":
      return swap(body.sourcePort * 0x10000 + body.destinationPort);
    case "icmp":
      return body.content.kind === "echo" ? body.type | (body.code << 8) | ((body.content.identifier || 1) << 16) : 0;
    default:
      return 0;
  }
}
