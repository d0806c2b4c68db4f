/**
 * Spanning tree BPDUs (IEEE 802.1D-2004 clause 9, from memory): configuration, topology change notification and rapid
 * spanning tree, carried over LLC 42 42 03 to 01:80:c2:00:00:00. Times are in units of 1/256 second.
 */
import { formatHardware, type Hardware } from "../address/index.ts";
import { bytesOf, getHardware, put16, put32, setHardware, viewOf } from "./bytes.ts";
import { type Malformed, truncated } from "./malformed.ts";

/** Flag: topology change. */
export const BPDU_TOPOLOGY_CHANGE = 0x01;
/** Flag of the rapid protocol: proposal. */
export const BPDU_PROPOSAL = 0x02;
/** Port role of the rapid protocol, bits 2 and 3: 1 alternate or backup, 2 root, 3 designated. */
export const BPDU_ROLE_MASK = 0x0c;
/** Flag of the rapid protocol: learning. */
export const BPDU_LEARNING = 0x10;
/** Flag of the rapid protocol: forwarding. */
export const BPDU_FORWARDING = 0x20;
/** Flag of the rapid protocol: agreement. */
export const BPDU_AGREEMENT = 0x40;
/** Flag: topology change acknowledged. */
export const BPDU_ACKNOWLEDGMENT = 0x80;

/** A bridge as the tree compares it: priority first, then address. */
export type BridgeIdentifier = {
  /** 16 bits; the upper four are settable in steps of 4096. */
  readonly priority: number;
  /** The bridge's hardware address. */
  readonly hardware: Hardware;
};

/** The message of a tree's designated bridge. */
export type TreeBpdu = {
  /** `config` is version 0, type 0; `rapid` is version 2, type 2. */
  readonly kind: "config" | "rapid";
  /** Bit set of `BPDU_` constants. */
  readonly flags: number;
  /** The root as the sender knows it. */
  readonly root: BridgeIdentifier;
  /** Cost of the sender's path to the root. */
  readonly rootPathCost: number;
  /** The sender. */
  readonly bridge: BridgeIdentifier;
  /** Port identifier, 16 bits: 4 of priority, 12 of number. */
  readonly port: number;
  /** Age since the root spoke, in 1/256 s. */
  readonly messageAge: number;
  /** Age at which the message dies, in 1/256 s. */
  readonly maxAge: number;
  /** Time between messages of the root, in 1/256 s. */
  readonly helloTime: number;
  /** Time in listening and in learning, in 1/256 s. */
  readonly forwardDelay: number;
};

/** One BPDU. */
export type Bpdu =
  | TreeBpdu
  | {
      /** Version 0, type 0x80: something changed, told towards the root. */
      readonly kind: "topology-change";
    };

const LLC: readonly number[] = [0x42, 0x42, 0x03];
const VERSION_AT = 5;
const TYPE_AT = 6;
const FLAGS_AT = 7;
const ROOT_AT = 8;
const COST_AT = 16;
const BRIDGE_AT = 20;
const PORT_AT = 28;
const TIMES_AT = 30;
const NOTICE_LENGTH = 7;
const CONFIG_LENGTH = 38;
const RAPID_LENGTH = 39; // one more byte: the length of a version 1 part, which is zero

/** Reads an LLC frame's payload. `unsupported` when it is no BPDU, or of a version and type not modelled. */
export function parseBpdu(bytes: Uint8Array): Bpdu | Malformed {
  const fault = checkLlc(bytes);
  if (fault !== undefined) return fault;
  const view = viewOf(bytes);
  const version = view.getUint8(VERSION_AT);
  const type = view.getUint8(TYPE_AT);
  if (version === 0 && type === 0x80) return { kind: "topology-change" };
  if (version === 0 && type === 0) return parseTree("config", CONFIG_LENGTH, bytes);
  if (version === 2 && type === 2) return parseTree("rapid", RAPID_LENGTH, bytes);
  return { malformed: "unsupported", protocol: "spanning tree", problem: `version ${version}, type ${type}` };
}

/** Writes an LLC frame's payload. */
export function emitBpdu(bpdu: Bpdu): Uint8Array {
  const bytes = new Uint8Array(bpduLength(bpdu));
  bytes.set(LLC);
  if (bpdu.kind === "topology-change") {
    bytes[TYPE_AT] = 0x80;
    return bytes;
  }
  const view = viewOf(bytes);
  bytes.set(bpdu.kind === "rapid" ? bytesOf(2, 2, bpdu.flags) : bytesOf(0, 0, bpdu.flags), VERSION_AT);
  emitBridge(view, ROOT_AT, bpdu.root);
  put32(view, COST_AT, bpdu.rootPathCost);
  emitBridge(view, BRIDGE_AT, bpdu.bridge);
  put16(view, PORT_AT, bpdu.port);
  [bpdu.messageAge, bpdu.maxAge, bpdu.helloTime, bpdu.forwardDelay].forEach((time, index) => {
    put16(view, TIMES_AT + index * 2, time);
  });
  return bytes;
}

/** Bytes that `emitBpdu` writes. */
export function bpduLength(bpdu: Bpdu): number {
  if (bpdu.kind === "topology-change") return NOTICE_LENGTH;
  return bpdu.kind === "rapid" ? RAPID_LENGTH : CONFIG_LENGTH;
}

/** One line. */
export function describeBpdu(bpdu: Bpdu): string {
  if (bpdu.kind === "topology-change") return "spanning tree: topology change";
  const changed = (bpdu.flags & BPDU_TOPOLOGY_CHANGE) === 0 ? "" : ", topology change";
  const root = `root ${describeBridge(bpdu.root)} at cost ${bpdu.rootPathCost}`;
  return `spanning tree: ${root}, by ${describeBridge(bpdu.bridge)} port ${bpdu.port & 0xfff}${changed}`;
}

function checkLlc(bytes: Uint8Array): Malformed | undefined {
  if (bytes.length < LLC.length) return truncated("LLC", LLC.length, bytes.length);
  if (LLC.some((byte, at) => bytes[at] !== byte))
    return { malformed: "unsupported", protocol: "LLC", problem: "not spanning tree" };
  if (bytes.length < NOTICE_LENGTH) return truncated("spanning tree", NOTICE_LENGTH, bytes.length);
  const protocol = viewOf(bytes).getUint16(LLC.length);
  if (protocol === 0) return undefined;
  return { malformed: "unsupported", protocol: "spanning tree", problem: `protocol is ${protocol}` };
}

function parseTree(kind: TreeBpdu["kind"], length: number, bytes: Uint8Array): Bpdu | Malformed {
  if (bytes.length < length) return truncated("spanning tree", length, bytes.length);
  const view = viewOf(bytes);
  return {
    kind,
    flags: view.getUint8(FLAGS_AT),
    root: parseBridge(view, ROOT_AT),
    rootPathCost: view.getUint32(COST_AT),
    bridge: parseBridge(view, BRIDGE_AT),
    port: view.getUint16(PORT_AT),
    messageAge: view.getUint16(TIMES_AT),
    maxAge: view.getUint16(TIMES_AT + 2),
    helloTime: view.getUint16(TIMES_AT + 4),
    forwardDelay: view.getUint16(TIMES_AT + 6),
  };
}

function parseBridge(view: DataView, at: number): BridgeIdentifier {
  return { priority: view.getUint16(at), hardware: getHardware(view, at + 2) };
}

function emitBridge(view: DataView, at: number, bridge: BridgeIdentifier): void {
  put16(view, at, bridge.priority);
  setHardware(view, at + 2, bridge.hardware);
}

function describeBridge(bridge: BridgeIdentifier): string {
  return `${bridge.priority}/${formatHardware(bridge.hardware)}`;
}
