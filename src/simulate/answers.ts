/**
 * What services send back: the smallest exchange that shows whether packets get both ways. TCP answers the opening, then
 * each data segment with one of its own of the same size; what did not fit is sent again smaller (RFC 1191 section 6.3).
 */
import { type Address, addressKey, isUnspecified } from "../address/index.ts";
import { tupleKey, tupleOf } from "../protocol/index.ts";
import {
  headersLength,
  type IcmpBody,
  type IpBody,
  type IpPacket,
  segmentSizeOf,
  segmentSizeOptions,
  TCP_ACK,
  TCP_HEADER_LENGTH,
  TCP_PSH,
  TCP_SYN,
  type TcpBody,
} from "../wire/index.ts";
import { memoryOf } from "./memory.ts";
import { isLinkScope, plainPacket } from "./packets.ts";
import type { InterfacePlan } from "./plan.ts";
import { turnedBody } from "./rewrite.ts";
import { isGroup } from "./route-choice.ts";
import { selectSource } from "./source-address.ts";
import type { Passage, SendOrder, Socket, World } from "./world.ts";

const FIRST_SEQUENCE = 50_000; // any number does
const WINDOW = 65_535;
const DEFAULT_SEGMENT_SIZE = 536; // without the option: RFC 1122 section 4.2.2.6
const NO_BYTES = new Uint8Array(0);

/** From which address, and how it leaves, where that is not as usual. */
type Replying = Pick<SendOrder, "near" | "egress"> & { readonly source?: Address | undefined };

/** Sends a packet back to where one came from. */
function reply(
  world: World,
  passage: Passage,
  body: IpBody,
  { source = replySource(world, passage), near, egress }: Replying = {},
): void {
  const { stack, journey, ingress, packet } = passage;
  if (source === undefined) return;
  world.send({
    stack,
    packet: plainPacket(source, addresseeOf(packet, body), body),
    journey: { descent: "answer", parent: journey },
    begun: "answer",
    egress: isLinkScope(packet.source) ? ingress : egress,
    near,
  });
}

/** A program that writes to no address of IPv6 writes to itself (seen on Linux 6.18). */
function addresseeOf({ source }: IpPacket, { kind }: IpBody): Address {
  const isProgram = kind === "udp" || kind === "raw";
  return isProgram && source.family === 6 && isUnspecified(source) ? { family: 6, value: 1n } : source;
}

function replySource(world: World, { stack, packet, ingress }: Passage): Address | undefined {
  if (!isGroup(stack, packet.destination)) return packet.destination;
  return selectSource(stack, packet.source, world.picks, ingress);
}

/**
 * Echoes a request, in IPv6 by a route through the interface that it came in by where several are as good, and by none other
 * what was sent to an anycast address or a group. The former is answered from an address that is the stack's alone (all seen on
 * Linux 6.18).
 */
export function answerEcho(world: World, passage: Passage, body: IcmpBody, type: number): void {
  const { stack, packet, ingress } = passage;
  const isAnycast = stack.anycast.has(addressKey(packet.destination));
  const source = isAnycast ? selectSource(stack, packet.source, world.picks, ingress) : replySource(world, passage);
  const isForMany = packet.source.family === 6 && (isAnycast || isGroup(stack, packet.destination));
  reply(world, passage, { ...body, type }, { source, near: ingress, ...(isForMany ? { egress: ingress } : {}) });
}

/** One datagram for one datagram. */
export function answerUdp(world: World, passage: Passage): void {
  const { body } = passage.packet;
  if (body.kind !== "udp") return;
  if (!mayProgramAnswer(passage)) return;
  const { sourcePort, destinationPort, data } = body;
  const bytes = data.kind === "bytes" ? data.bytes : NO_BYTES;
  const ports = { sourcePort: destinationPort, destinationPort: sourcePort };
  reply(world, passage, { kind: "udp", ...ports, data: { kind: "bytes", bytes } });
}

/** A program may not send to everyone without having said so (SO_BROADCAST, common practice; seen on Linux 6.18). */
function mayProgramAnswer({ stack, packet: { source } }: Passage): boolean {
  return !isGroup(stack, source);
}

/** One packet for one packet. */
export function answerRaw(world: World, passage: Passage): void {
  if (!mayProgramAnswer(passage)) return;
  reply(world, passage, turnedBody(passage.packet));
}

/** A connection that is asked for. */
export function socketFor(body: TcpBody): Socket {
  return { segmentSize: segmentSizeOf(body.options) ?? DEFAULT_SEGMENT_SIZE, sent: undefined };
}

/** Accepts a connection. */
export function answerSyn(world: World, passage: Passage, body: TcpBody): void {
  reply(world, passage, {
    ...turnedSegment(body, TCP_SYN | TCP_ACK),
    sequence: FIRST_SEQUENCE,
    acknowledgement: (body.sequence + 1) >>> 0,
    options: segmentSizeOptions(ownSegmentSize(passage.ingress, passage.packet)),
  });
}

/** Largest payload that arrives whole by an interface. */
export function ownSegmentSize(leg: InterfacePlan | undefined, packet: IpPacket): number {
  return (leg?.interface.mtu ?? LOOPBACK_MTU) - headersLength(packet) - TCP_HEADER_LENGTH;
}

const LOOPBACK_MTU = 65_536; // of the kernel's loopback device

function turnedSegment({ sourcePort, destinationPort }: TcpBody, flags: number): TcpBody {
  return {
    kind: "tcp",
    sourcePort: destinationPort,
    destinationPort: sourcePort,
    flags,
    sequence: 0,
    acknowledgement: 0,
    window: WINDOW,
    options: NO_BYTES,
    data: NO_BYTES,
  };
}

/** Answers a data segment with as much data. */
export function answerData(world: World, passage: Passage, body: TcpBody, socket: Socket): void {
  const segment: TcpBody = {
    ...turnedSegment(body, TCP_PSH | TCP_ACK),
    sequence: body.acknowledgement,
    acknowledgement: (body.sequence + body.data.length) >>> 0,
    data: new Uint8Array(Math.min(body.data.length, socket.segmentSize)),
  };
  socket.sent = plainPacket(passage.packet.destination, passage.packet.source, segment);
  reply(world, passage, segment);
}

/** An error came about something that the stack sent: if it did not fit, it is sent again as small as the error asks. */
export function sendSmaller(world: World, passage: Passage, quoted: IpPacket): void {
  const tuple = tupleOf(quoted);
  const socket = tuple && memoryOf(world, passage.stack).sockets.get(tupleKey(tuple));
  const smaller = socket?.sent && shrunk(socket.sent, passage.packet);
  if (smaller === undefined || socket === undefined) return;
  socket.sent = smaller;
  const journey = { descent: "answer", parent: passage.journey } as const;
  world.send({ stack: passage.stack, packet: smaller, journey, begun: "answer" });
}

/** A data segment cut to the MTU that an ICMP error names; undefined when the error is about something else, or it fits. */
export function shrunk(packet: IpPacket, error: IpPacket): IpPacket | undefined {
  if (error.body.kind !== "icmp" || error.body.content.kind !== "error" || packet.body.kind !== "tcp") return undefined;
  const { type, code, content } = error.body;
  const isTooBig = error.source.family === 4 ? type === 3 && code === 4 : type === 2;
  const room = (content.mtu ?? 0) - headersLength(packet) - TCP_HEADER_LENGTH;
  if (!isTooBig || room <= 0 || room >= packet.body.data.length) return undefined;
  return { ...packet, body: { ...packet.body, data: packet.body.data.slice(0, room) } };
}
