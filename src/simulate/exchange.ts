/**
 * The client of one exchange: sends the request from its stack, takes what comes back, and for TCP goes on to the
 * handshake's end and one data segment each way. It notes whose turn it was when nothing more came.
 */
import { type Address, addressKey } from "../address/index.ts";
import { type Tuple, tupleKey, tupleOf, turned } from "../protocol/index.ts";
import {
  headersLength,
  ICMP_ECHO_REQUEST,
  ICMPV6_ECHO_REQUEST,
  type IpBody,
  type IpPacket,
  lengthOfIp,
  PROTOCOL_ICMP,
  PROTOCOL_ICMPV6,
  PROTOCOL_TCP,
  PROTOCOL_UDP,
  segmentSizeOf,
  segmentSizeOptions,
  TCP_ACK,
  TCP_HEADER_LENGTH,
  TCP_PSH,
  TCP_RST,
  TCP_SYN,
  type TcpBody,
} from "../wire/index.ts";
import { ownSegmentSize, shrunk } from "./answers.ts";
import type { Journey } from "./journal.ts";
import { plainPacket, quotedPacket } from "./packets.ts";
import type { InterfacePlan, StackPlan } from "./plan.ts";
import type { ProbeRequest } from "./results.ts";
import type { Passage, Watcher, World } from "./world.ts";

/** How the client sees the exchange. */
export type ClientState = "waiting" | "open" | "answered" | "reset" | "refused" | "failed";

const FIRST_SEQUENCE = 10_000; // any number does
const DEFAULT_DATA = 32; // bytes of a request or data segment that has no size
const DEFAULT_SEGMENT_SIZE = 536; // RFC 1122 section 4.2.2.6
const NO_BYTES = new Uint8Array(0);

/** One exchange under way. */
export class Exchange implements Watcher {
  readonly stack: StackPlan;
  /** The request. */
  readonly packet: IpPacket;
  readonly request: Journey = { descent: "sent", parent: undefined };
  /** The last segment that went out after the handshake; undefined: there was none. */
  data: Journey | undefined;
  state: ClientState = "waiting";
  /** The packet that answered, refused or reset. */
  ending: Passage | undefined;
  readonly #world: World;
  readonly #egress: InterfacePlan | undefined;
  readonly #tuple: Tuple;
  readonly #size: number;
  /** A reset came: nothing is taken from then on. */
  #isOver = false;
  #segment: IpPacket | undefined;

  constructor(world: World, stack: StackPlan, source: Address, asked: ProbeRequest & { readonly sourcePort: number }) {
    this.#world = world;
    this.stack = stack;
    this.#egress = asked.egress === undefined ? undefined : stack.byId.get(asked.egress);
    this.#size = asked.size ?? 0;
    this.packet = requestPacket(source, asked, this.#egress ?? stack.own.get(addressKey(source))?.[0]);
    const tuple = tupleOf(this.packet);
    this.#tuple = tuple ?? bareTuple(this.packet);
  }

  /** Sends the request. */
  begin(): void {
    this.#send(this.packet, this.request);
  }

  /** The stack has no address to send from: what it waits for is to blame. */
  hasNoSource(): void {
    const { stack } = this.stack;
    const awaits = stack.interfaces.flatMap((leg) => leg.awaits)[0];
    const origin = awaits?.origin ?? stack.origin;
    const fate = { at: stack.id, origin, end: "dropped", reason: "no-source-address" } as const;
    const note = { journey: this.request, fate, trail: undefined, packet: this.packet, asked: undefined };
    this.#world.journal.endings.push(note);
    this.state = "failed";
  }

  /** Takes answers to the request, and errors about what was sent. */
  hears(passage: Passage): boolean {
    if (passage.stack !== this.stack || this.state === "failed") return false;
    const quoted = quotedPacket(passage.packet);
    if (quoted !== undefined) return this.#hearsError(passage, quoted);
    const tuple = tupleOf(passage.packet) ?? bareTuple(passage.packet);
    if (tupleKey(turned(tuple)) !== tupleKey(this.#tuple)) return false;
    const { body } = passage.packet;
    if (body.kind !== "tcp") return this.#finish("answered", passage);
    return this.#hearsSegment(passage, body);
  }

  /** The request never left. */
  fails(passage: Passage): void {
    if (passage.journey === this.request && this.state === "waiting") this.state = "failed";
  }

  /** An exchange looks at packets only. */
  taps(): boolean {
    return false;
  }

  /** Nor does it know whom packets concern. */
  concerns(): undefined {
    return undefined;
  }

  #hearsError(passage: Passage, quoted: IpPacket): boolean {
    const tuple = tupleOf(quoted) ?? bareTuple(quoted);
    if (tupleKey(tuple) !== tupleKey(this.#tuple)) return false;
    // In IPv4 a program that is bound to an interface, but for TCP, does not hear what its own stack says to it (seen on Linux 6.18).
    const isOwnWord = passage.ingress === undefined && passage.packet.source.family === 4;
    if (isOwnWord && this.#egress !== undefined && this.packet.body.kind !== "tcp") return true;
    if (this.state === "waiting") return this.#finish("refused", passage);
    const smaller = this.#segment && shrunk(this.#segment, passage.packet);
    if (smaller !== undefined) this.#sendData(smaller);
    return true;
  }

  #hearsSegment(passage: Passage, body: TcpBody): boolean {
    if ((body.flags & TCP_RST) !== 0) {
      this.#isOver = true;
      return this.state === "waiting" ? this.#finish("reset", passage) : true;
    }
    if ((body.flags & TCP_SYN) !== 0) {
      if (this.state === "waiting") this.#opens(passage, body);
      return true;
    }
    if (this.state === "open" && !this.#isOver && body.data.length > 0) this.#finish("answered", passage);
    return true;
  }

  #finish(state: ClientState, passage: Passage): true {
    this.state = state;
    this.ending = passage;
    return true;
  }

  /** The connection is open: acknowledge, then send data. */
  #opens(passage: Passage, body: TcpBody): void {
    this.state = "open";
    this.ending = passage;
    const segment: TcpBody = {
      ...segmentOf(this.packet),
      flags: TCP_ACK,
      sequence: FIRST_SEQUENCE + 1,
      acknowledgement: (body.sequence + 1) >>> 0,
      options: NO_BYTES,
    };
    this.#send({ ...this.packet, body: segment }, { descent: "sent", parent: undefined });
    const limit = segmentSizeOf(body.options) ?? DEFAULT_SEGMENT_SIZE;
    const wanted = this.#size - headersLength(this.packet) - TCP_HEADER_LENGTH;
    const length = this.#size === 0 ? DEFAULT_DATA : Math.max(1, Math.min(wanted, limit));
    this.#sendData({ ...this.packet, body: { ...segment, flags: TCP_PSH | TCP_ACK, data: new Uint8Array(length) } });
  }

  #sendData(packet: IpPacket): void {
    this.#segment = packet;
    this.data = { descent: "sent", parent: undefined };
    this.#send(packet, this.data);
  }

  #send(packet: IpPacket, journey: Journey): void {
    this.#world.send({ stack: this.stack, packet, journey, begun: "program", egress: this.#egress });
  }
}

function segmentOf({ body }: IpPacket): TcpBody {
  if (body.kind !== "tcp") throw new Error(`${body.kind} has no segments`);
  return body;
}

/** Protocols without ports are told apart by their addresses. */
function bareTuple({ source, destination, body }: IpPacket): Tuple {
  const protocol = body.kind === "raw" ? body.protocol : body.kind === "icmp" ? PROTOCOL_ICMP : -1;
  return { protocol, source, destination, sourcePort: 0, destinationPort: 0, icmpType: -1 };
}

type Asked = ProbeRequest & { readonly sourcePort: number };

/** `leg`: where the packet will leave, for the size of segments that come back. */
function requestPacket(source: Address, asked: Asked, leg: InterfacePlan | undefined): IpPacket {
  const packet = plainPacket(source, asked.destination, requestBody(source, asked));
  if (packet.body.kind !== "tcp") return padded(packet, asked.size);
  const options = segmentSizeOptions(ownSegmentSize(leg, packet));
  return { ...packet, body: { ...packet.body, options } };
}

function requestBody({ family }: Address, { service, sourcePort }: Asked): IpBody {
  const { protocol, port, icmp } = service;
  const ports = { sourcePort, destinationPort: port ?? 0 };
  switch (protocol) {
    case PROTOCOL_TCP:
      return { kind: "tcp", ...ports, flags: TCP_SYN, sequence: FIRST_SEQUENCE, acknowledgement: 0, ...PLAIN_SEGMENT };
    case PROTOCOL_UDP:
      return { kind: "udp", ...ports, data: { kind: "bytes", bytes: new Uint8Array(DEFAULT_DATA) } };
    case PROTOCOL_ICMP:
    case PROTOCOL_ICMPV6: {
      const { type, code } = icmp ?? { type: family === 4 ? ICMP_ECHO_REQUEST : ICMPV6_ECHO_REQUEST, code: 0 };
      const data = new Uint8Array(DEFAULT_DATA);
      return {
        kind: "icmp",
        type,
        code,
        content: { kind: "echo", identifier: sourcePort & 0xffff, sequence: 1, data },
      };
    }
    default:
      return { kind: "raw", protocol, bytes: rawBytes(ports) };
  }
}

/** Ports stand first in every protocol that has some. */
function rawBytes({
  sourcePort,
  destinationPort,
}: {
  readonly sourcePort: number;
  readonly destinationPort: number;
}): Uint8Array {
  const bytes = new Uint8Array(DEFAULT_DATA);
  if (destinationPort > 0) bytes.set([sourcePort >> 8, sourcePort & 255, destinationPort >> 8, destinationPort & 255]);
  return bytes;
}

const PLAIN_SEGMENT = { window: 65_535, options: NO_BYTES, data: NO_BYTES };

/** The request with so much data that it is `size` bytes long. */
function padded(packet: IpPacket, size: number | undefined): IpPacket {
  if (size === undefined) return packet;
  const { body } = packet;
  const bytes = new Uint8Array(Math.max(0, size - lengthOfIp(packet) + DEFAULT_DATA));
  if (body.kind === "udp") return { ...packet, body: { ...body, data: { kind: "bytes", bytes } } };
  if (body.kind === "raw") {
    bytes.set(body.bytes.subarray(0, Math.min(4, bytes.length)));
    return { ...packet, body: { ...body, bytes } };
  }
  if (body.kind !== "icmp" || body.content.kind !== "echo") return packet;
  return { ...packet, body: { ...body, content: { ...body.content, data: bytes } } };
}
