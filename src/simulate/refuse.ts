/**
 * Turns a packet away with an answer: a TCP reset or an ICMP error, begun at the stack like any packet of its own, so
 * that it passes `sent` (kernel fact 6). No error is ever sent about an error, a broadcast, a multicast, a later
 * fragment or a source that is no single station (RFC 1122 section 3.2.2; RFC 4443 section 2.4 (e), from memory).
 */
import { type Address, isMulticast, isUnspecified } from "../address/index.ts";
import type { Refusal } from "../network/index.ts";
import {
  ICMP_REDIRECT,
  ICMPV6_TOO_BIG,
  type IcmpBody,
  type IpBody,
  type IpPacket,
  isIcmpError,
  isIcmpv6Error,
  TCP_ACK,
  TCP_FIN,
  TCP_RST,
  TCP_SYN,
  type TcpBody,
} from "../wire/index.ts";
import { isLinkScope, plainPacket } from "./packets.ts";
import type { InterfacePlan } from "./plan.ts";
import { RESET } from "./refusals.ts";
import { isGroup } from "./route-choice.ts";
import { addressFacing, selectSource } from "./source-address.ts";
import type { Passage, World } from "./world.ts";

/** What was sent. */
export type Answered = {
  /** The error; absent: a reset. */
  readonly icmp?: { readonly type: number; readonly code: number };
  /** Source of the answer. */
  readonly from: Address;
};

const NO_BYTES = new Uint8Array(0);

/** Answers a packet that is turned away; undefined: nothing may be, or can be, said about it. */
export function refusePacket(world: World, passage: Passage, refusal: Refusal, mtu?: number): Answered | undefined {
  const { answer } = refusal;
  const { packet } = passage;
  if (answer.kind === "silent" || refusal.silentFor === packet.source.family) return undefined;
  const isReset = answer.kind === "tcp-reset" && packet.body.kind === "tcp";
  const body = isReset ? resetFor(packet.body) : errorFor(passage, refusal, mtu);
  if (body === undefined || !mayAnswer(passage, body)) return undefined;
  const from = isReset ? packet.destination : answerSource(world, passage, refusal);
  if (from === undefined) return undefined;
  // What says that nobody listens is a segment of the connection (kernel fact 17); what a rule says is about it.
  // The reset of a rule is routed by its destination alone, an address of a link, too (seen on Linux 6.18).
  const egress = isLinkScope(packet.source) && !(isReset && refusal !== RESET) ? passage.ingress : undefined;
  send(world, passage, { from, body, egress, isAbout: refusal !== RESET });
  return body.kind === "icmp" ? { icmp: { type: body.type, code: body.code }, from } : { from };
}

type Answer = {
  readonly from: Address;
  readonly body: IpBody;
  /** The interface it is bound to; undefined: as routed. */
  readonly egress: InterfacePlan | undefined;
  /** It belongs to the connection of the packet it is about. */
  readonly isAbout: boolean;
};

function send(world: World, passage: Passage, { from, body, egress, isAbout }: Answer): void {
  const { stack, packet, tracked, direction, journey } = passage;
  const answer = { ...plainPacket(from, packet.source, body), dontFragment: from.family === 6 };
  world.send({
    stack,
    packet: answer,
    journey: { descent: body.kind === "icmp" ? "error" : "answer", parent: journey },
    begun: "error",
    egress,
    about: isAbout ? tracked && { tracked, direction } : undefined,
  });
}

function mayAnswer({ packet, stack, isGroupFrame }: Passage, body: IcmpBody | TcpBody): boolean {
  const { source, destination, fragmentOffset } = packet;
  // In IPv4 a group is told like a station (seen on Linux 6.18), where it is let in at all or put back as a source.
  if (isUnspecified(source) || (source.family === 6 && isMulticast(source)) || fragmentOffset > 0) return false;
  const isTooBig = body.kind === "icmp" && source.family === 6 && body.type === ICMPV6_TOO_BIG;
  if ((isGroupFrame || isGroup(stack, destination)) && !isTooBig) return false;
  return body.kind === "tcp" || !isError(packet);
}

function isError({ body, source }: IpPacket): boolean {
  if (body.kind !== "icmp") return false;
  return source.family === 4 ? isIcmpError(body.type) || body.type === ICMP_REDIRECT : isIcmpv6Error(body.type);
}

/** RFC 793 section 3.4: never about a reset. */
function resetFor(body: IpBody): TcpBody | undefined {
  if (body.kind !== "tcp" || (body.flags & TCP_RST) !== 0) return undefined;
  const hasAck = (body.flags & TCP_ACK) !== 0;
  const length = body.data.length + ((body.flags & TCP_SYN) !== 0 ? 1 : 0) + ((body.flags & TCP_FIN) !== 0 ? 1 : 0);
  return {
    kind: "tcp",
    sourcePort: body.destinationPort,
    destinationPort: body.sourcePort,
    flags: hasAck ? TCP_RST : TCP_RST | TCP_ACK,
    sequence: hasAck ? body.acknowledgement : 0,
    acknowledgement: hasAck ? 0 : (body.sequence + length) >>> 0,
    window: 0,
    options: NO_BYTES,
    data: NO_BYTES,
  };
}

function errorFor({ packet }: Passage, { answer }: Refusal, mtu: number | undefined): IcmpBody | undefined {
  if (answer.kind === "silent") return undefined;
  const pair = answer.kind === "icmp" ? answer.error : answer.others;
  const { type, code } = packet.source.family === 4 ? pair.v4 : pair.v6;
  return {
    kind: "icmp",
    type,
    code,
    content: { kind: "error", ...(mtu === undefined ? {} : { mtu }), quoted: packet },
  };
}

/** Kernel fact 5: the address facing the sender, or the one that the packet was sent to. */
function answerSource(world: World, passage: Passage, { from }: Refusal): Address | undefined {
  const { stack, packet, ingress, isOwn } = passage;
  const { source, destination } = packet;
  // An address of a link is none where a packet came in by no link (IPv6, seen on Linux 6.18).
  const isPlaceless = isLinkScope(destination) && ingress === undefined;
  if ((from === "addressed" || isOwn) && !isGroup(stack, destination) && !isPlaceless) return destination;
  // In IPv6 the kernel prefers an address of the interface that the packet came in by.
  if ((source.family === 6 || isLinkScope(source)) && ingress !== undefined)
    return addressFacing(stack, ingress, source);
  return selectSource(stack, source, world.picks) ?? (ingress && addressFacing(stack, ingress, source));
}
