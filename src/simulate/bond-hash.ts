/**
 * How a bond picks the member for a frame: the formulas of the kernel for its three policies (kernel fact 45, 288 of
 * 288 flows agreed; IPv6 words are folded by exclusive or, from memory). The member is the hash modulo their number. An ICMP
 * error goes with the packet that it is about: that one's addresses and ports count (link seed 38). What has a tag
 * within goes by that one's type and is no IP packet to a bond (link seed 3141).
 */
import type { Address } from "../address/index.ts";
import type { Bond } from "../network/index.ts";
import { type Frame, type IpBody, type IpPacket, isFragment, type Tag, typeFieldOf } from "../wire/index.ts";

/**
 * The hash of a frame, an unsigned 32-bit number. `within`: its tags that are payload, to the device of the bond; default: all
 * but the outer one.
 */
export function bondHash(policy: Bond["hash"], frame: Frame, within: readonly Tag[] = frame.tags.slice(1)): number {
  const { payload } = frame;
  if (policy === "layer2" || payload.kind !== "ip" || within.length > 0) return layer2(frame, within);
  const { source, destination, word } = flowOf(payload.packet);
  const start = policy === "layer2+3" ? layer2(frame, within) : word;
  const folded = fold(start ^ addressWord(source) ^ addressWord(destination));
  return policy === "layer3+4" ? folded >>> 1 : folded;
}

function layer2(frame: Frame, [tag]: readonly Tag[]): number {
  const last = Number(frame.source & 0xffn) ^ Number(frame.destination & 0xffn);
  return (last ^ (tag?.tpid ?? typeFieldOf(frame.payload))) >>> 0;
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

type FlowKey = { readonly source: Address; readonly destination: Address; readonly word: number };

function flowOf(packet: IpPacket): FlowKey {
  const { source, destination, body } = packet;
  const about = body.kind === "icmp" && body.content.kind === "error" ? body.content.quoted : undefined;
  if (about === undefined || about instanceof Uint8Array) return { source, destination, word: portsWord(packet) };
  // Of what is quoted, ports alone count.
  const word = about.body.kind === "icmp" ? 0 : portsWord(about);
  return { source: about.source, destination: about.destination, word };
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
