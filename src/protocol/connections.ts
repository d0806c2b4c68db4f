/**
 * Connection tracking as a pure machine: which exchange a packet belongs to, and what that makes of it (new,
 * established, invalid). The phases of TCP follow the table of the Linux kernel's connection tracking (from memory,
 * held to kernel facts 16 and 17 by tests); sequence numbers and windows are not looked at. Lifetimes are given.
 */
import type { Address } from "../address/index.ts";
import type { ConnectionState, Tracking } from "../network/index.ts";
import {
  type IcmpContent,
  type IpBody,
  type IpPacket,
  isFragment,
  PROTOCOL_ICMP,
  PROTOCOL_ICMPV6,
  PROTOCOL_TCP,
  PROTOCOL_UDP,
  protocolOf,
  TCP_ACK,
  TCP_FIN,
  TCP_RST,
  TCP_SYN,
} from "../wire/index.ts";

/** What tells one exchange from another, seen in one direction. */
export type Tuple = {
  /** Protocol number. */
  readonly protocol: number;
  /** Who sends. */
  readonly source: Address;
  /** Source port, or the identifier of an ICMP query; 0 where the protocol has none. */
  readonly sourcePort: number;
  /** Who is to receive. */
  readonly destination: Address;
  /** Destination port, or again the identifier. */
  readonly destinationPort: number;
  /** Type of an ICMP query or its answer; -1 for other protocols. */
  readonly icmpType: number;
};

/** `original` is the direction of the first packet. */
export type Direction = "original" | "reply";

/** Phases of a TCP connection as seen in the middle; `open` for all other protocols. */
export type Phase =
  | "syn-sent"
  | "syn-received"
  | "established"
  | "fin-wait"
  | "close-wait"
  | "last-ack"
  | "time-wait"
  | "closed"
  | "both-syn-sent"
  | "open";

/** A tracked connection. A rewritten end makes `reply` differ from `original` turned round. */
export type Connection = {
  /** As its first packet came in. */
  readonly original: Tuple;
  /** As its answers come in. */
  readonly reply: Tuple;
  /** Of TCP; `open` for the rest. */
  readonly phase: Phase;
  /** A packet of the reply direction was seen. */
  readonly answered: boolean;
  /** When its first packet came. */
  readonly begunMs: number;
  /** When it is forgotten, unless a packet comes before. */
  readonly untilMs: number;
};

const QUERY_PAIRS: readonly (readonly [protocol: number, asks: number, answers: number])[] = [
  [PROTOCOL_ICMP, 8, 0],
  [PROTOCOL_ICMP, 13, 14],
  [PROTOCOL_ICMP, 15, 16],
  [PROTOCOL_ICMP, 17, 18],
  [PROTOCOL_ICMPV6, 128, 129],
  [PROTOCOL_ICMPV6, 139, 140],
];

/** Whether a type of ICMP is a query or the answer to one. */
export function isQueryType(protocol: number, type: number): boolean {
  return pairedType(protocol, type) !== undefined;
}

/** The other type of a query and its answer; undefined for a type that is neither. */
function pairedType(protocol: number, type: number): number | undefined {
  for (const [of, asks, answers] of QUERY_PAIRS) {
    if (of !== protocol) continue;
    if (type === asks) return answers;
    if (type === answers) return asks;
  }
  return undefined;
}

function isAnswerType(protocol: number, type: number): boolean {
  return QUERY_PAIRS.some(([of, , answers]) => of === protocol && answers === type);
}

/** The tuple of a packet; undefined for ICMP other than queries and their answers, neighbour discovery, and fragments. */
export function tupleOf(packet: IpPacket): Tuple | undefined {
  if (isFragment(packet)) return undefined;
  const { source, destination, body } = packet;
  const protocol = protocolOf(body, source.family);
  switch (body.kind) {
    case "tcp":
    case "udp": {
      const { sourcePort, destinationPort } = body;
      return { protocol, source, sourcePort, destination, destinationPort, icmpType: -1 };
    }
    case "icmp": {
      if (pairedType(protocol, body.type) === undefined) return undefined;
      const identifier = identifierOf(body.content);
      const ports = { sourcePort: identifier, destinationPort: identifier };
      return { protocol, source, destination, ...ports, icmpType: body.type };
    }
    case "neighbour":
      return undefined;
    case "raw":
      return { protocol, source, destination, ...portsIn(body), icmpType: -1 };
  }
}

/**
 * All queries bear their identifier where an echo request does (RFC 792: echo, timestamp and information messages; RFC 950 appendix
 * I: address mask ones). That the kernel reads it there of any query, node information too, is from memory.
 */
function identifierOf(content: IcmpContent): number {
  if (content.kind === "echo") return content.identifier;
  if (content.kind !== "other" || content.bytes.length < 4) return 0;
  return new DataView(content.bytes.buffer, content.bytes.byteOffset).getUint16(0);
}

const PROTOCOL_SCTP = 132; // its ports stand first, RFC 9260 section 3.1

function portsIn({
  protocol,
  bytes,
}: Extract<IpBody, { readonly kind: "raw" }>): Pick<Tuple, "sourcePort" | "destinationPort"> {
  if (protocol !== PROTOCOL_SCTP || bytes.length < 4) return { sourcePort: 0, destinationPort: 0 };
  const view = new DataView(bytes.buffer, bytes.byteOffset);
  return { sourcePort: view.getUint16(0), destinationPort: view.getUint16(2) };
}

/** The tuple of an answer to the packet with this tuple. */
export function turned(tuple: Tuple): Tuple {
  return {
    protocol: tuple.protocol,
    source: tuple.destination,
    sourcePort: tuple.destinationPort,
    destination: tuple.source,
    destinationPort: tuple.sourcePort,
    icmpType: tuple.icmpType < 0 ? -1 : (pairedType(tuple.protocol, tuple.icmpType) ?? tuple.icmpType),
  };
}

/** Text that is equal for equal tuples only. */
export function tupleKey(tuple: Tuple): string {
  const { protocol, source, sourcePort, destination, destinationPort, icmpType } = tuple;
  return `${source.family} ${protocol} ${icmpType} ${source.value}:${sourcePort} ${destination.value}:${destinationPort}`;
}

type FlagWord = "syn" | "syn-ack" | "fin" | "ack" | "rst" | "none";

function flagWord(flags: number): FlagWord {
  if ((flags & TCP_RST) !== 0) return "rst";
  if ((flags & TCP_SYN) !== 0) return (flags & TCP_ACK) !== 0 ? "syn-ack" : "syn";
  if ((flags & TCP_FIN) !== 0) return "fin";
  return (flags & TCP_ACK) !== 0 ? "ack" : "none";
}

/** What a segment does in a phase: the next phase, or it is passed by without effect, or it is invalid. */
type Move = Phase | "pass" | "bad";

const PHASES: readonly Phase[] = [
  "syn-sent",
  "syn-received",
  "established",
  "fin-wait",
  "close-wait",
  "last-ack",
  "time-wait",
  "closed",
  "both-syn-sent",
];

// Short names for the table only.
const SS: Move = "syn-sent";
const SR: Move = "syn-received";
const ES: Move = "established";
const FW: Move = "fin-wait";
const CW: Move = "close-wait";
const LA: Move = "last-ack";
const TW: Move = "time-wait";
const CL: Move = "closed";
const S2: Move = "both-syn-sent";
const __: Move = "pass";
const XX: Move = "bad";

/** Columns: SS, SR, ES, FW, CW, LA, TW, CL, S2. */
const MOVES: Readonly<Record<Direction, Readonly<Record<FlagWord, readonly Move[]>>>> = {
  original: {
    syn: [SS, __, __, __, __, __, SS, SS, S2],
    "syn-ack": [XX, SR, XX, XX, XX, XX, XX, XX, SR],
    fin: [XX, FW, FW, LA, LA, LA, TW, CL, XX],
    ack: [XX, ES, ES, CW, CW, TW, TW, CL, XX],
    rst: [CL, CL, CL, CL, CL, CL, CL, CL, CL],
    none: [XX, XX, XX, XX, XX, XX, XX, XX, XX],
  },
  reply: {
    syn: [S2, XX, XX, XX, XX, XX, SS, XX, S2],
    "syn-ack": [SR, __, __, __, __, __, __, __, SR],
    fin: [XX, FW, FW, LA, LA, LA, TW, CL, XX],
    ack: [__, SR, ES, CW, CW, TW, TW, CL, __],
    rst: [CL, CL, CL, CL, CL, CL, CL, CL, CL],
    none: [XX, XX, XX, XX, XX, XX, XX, XX, XX],
  },
};

/** How connections begin and how long they last. */
export type TrackingRules = {
  /** Idle lifetimes. */
  readonly tracking: Tracking;
  /** What a TCP packet in the middle of an unknown connection is. */
  readonly midStream: "new" | "invalid";
};

/** The connection that a packet begins; undefined when it cannot begin one, which makes it invalid. */
export function openConnection(
  packet: IpPacket,
  tuple: Tuple,
  rules: TrackingRules,
  nowMs: number,
): Connection | undefined {
  const phase = firstPhase(packet, tuple, rules.midStream);
  if (phase === undefined) return undefined;
  const untilMs = nowMs + lifetimeMs(tuple.protocol, phase, false, rules.tracking);
  return { original: tuple, reply: turned(tuple), phase, answered: false, begunMs: nowMs, untilMs };
}

function firstPhase({ body }: IpPacket, tuple: Tuple, midStream: "new" | "invalid"): Phase | undefined {
  if (body.kind === "icmp") return isAnswerType(tuple.protocol, tuple.icmpType) ? undefined : "open";
  if (body.kind !== "tcp") return "open";
  const word = flagWord(body.flags);
  if (word === "syn") return "syn-sent";
  return word === "ack" && midStream === "new" ? "established" : undefined;
}

/** A known connection after one more of its packets, and what that packet is. */
export function followConnection(
  connection: Connection,
  direction: Direction,
  packet: IpPacket,
  tracking: Tracking,
  nowMs: number,
): { readonly connection: Connection; readonly state: ConnectionState } {
  const move = packet.body.kind === "tcp" ? moveOf(connection.phase, direction, packet.body.flags) : connection.phase;
  if (move === "bad") return { connection, state: "invalid" };
  const reopened = move === "syn-sent" && (connection.phase === "time-wait" || connection.phase === "closed");
  const answered = !reopened && (connection.answered || direction === "reply");
  const state = answered ? "established" : "new";
  const phase = move === "pass" ? connection.phase : move;
  // A reset that is the first answer, or comes before any, ends the connection at once (seen of the kernel).
  const isOver = !connection.answered && packet.body.kind === "tcp" && flagWord(packet.body.flags) === "rst";
  // Both ends still speak: an exchange that is over at once is kept no longer than one without an answer, and the first answer does
  // not make it one that goes on, however late it comes (seen of the kernel, 6.1).
  const lasts = connection.answered && answered && nowMs > connection.begunMs + STREAM_AFTER_MS;
  // Where both ends open at once, the second one's first packet does not begin the time anew (seen of the kernel, 6.1).
  const isSecond = phase === "both-syn-sent" && connection.phase === "syn-sent";
  const keptMs = isSecond
    ? connection.untilMs
    : nowMs + lifetimeMs(connection.original.protocol, phase, lasts, tracking);
  return { connection: { ...connection, phase, answered, untilMs: isOver ? nowMs - 1 : keptMs }, state };
}

/** A known connection that both ends have used for long, until this moment. */
export function usedForLong(connection: Connection, tracking: Tracking, nowMs: number): Connection {
  const { original, phase, answered } = connection;
  const untilMs = nowMs + lifetimeMs(original.protocol, phase, answered, tracking);
  return { ...connection, begunMs: Math.min(connection.begunMs, nowMs - STREAM_AFTER_MS - 1), untilMs };
}

function moveOf(phase: Phase, direction: Direction, flags: number): Move {
  return MOVES[direction][flagWord(flags)][PHASES.indexOf(phase)] ?? "bad";
}

const STREAM_AFTER_MS = 2000;

function lifetimeMs(protocol: number, phase: Phase, lasts: boolean, tracking: Tracking): number {
  return 1000 * lifetimeSeconds(protocol, phase, lasts, tracking);
}

/** How long a connection of an IP protocol is kept while idle; `lasts`: it was answered, and went on. */
export function lifetimeSeconds(protocol: number, phase: Phase, lasts: boolean, tracking: Tracking): number {
  switch (protocol) {
    case PROTOCOL_TCP:
      return tcpSeconds(phase, tracking);
    case PROTOCOL_UDP:
      return lasts ? tracking.udpAnsweredSeconds : tracking.udpSeconds;
    case PROTOCOL_ICMP:
    case PROTOCOL_ICMPV6:
      return tracking.icmpSeconds;
    default:
      return tracking.otherSeconds;
  }
}

function tcpSeconds(phase: Phase, tracking: Tracking): number {
  if (phase === "established") return tracking.tcpEstablishedSeconds;
  const apart = phase === "open" || phase === "both-syn-sent" ? undefined : tracking.tcpPhaseSeconds?.[phase];
  return apart ?? tracking.tcpTransitorySeconds;
}
