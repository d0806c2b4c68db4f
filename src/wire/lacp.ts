/**
 * LACPDU version 1 (IEEE 802.1AX, from memory): subtype 1 of the slow protocols, EtherType 0x8809, 110 bytes, sent to
 * 01:80:c2:00:00:02. State bits as named in the standard's YANG type `lacp-state`.
 */
import { formatHardware, type Hardware } from "../address/index.ts";
import { bytesOf, getHardware, put8, put16, setHardware, viewOf } from "./bytes.ts";
import { type Malformed, truncated } from "./malformed.ts";

/** State bit: sends regardless of the partner. */
export const LACP_ACTIVITY = 0x01;
/** State bit: wants the partner to send fast. */
export const LACP_TIMEOUT = 0x02;
/** State bit: may be aggregated. */
export const LACP_AGGREGATION = 0x04;
/** State bit: attached to the right aggregator. */
export const LACP_SYNCHRONIZATION = 0x08;
/** State bit: accepts frames. */
export const LACP_COLLECTING = 0x10;
/** State bit: sends frames. */
export const LACP_DISTRIBUTING = 0x20;
/** State bit: uses defaults for the partner. */
export const LACP_DEFAULTED = 0x40;
/** State bit: the partner's information has run out. */
export const LACP_EXPIRED = 0x80;

/** What an end says of itself, or believes of the other. */
export type LacpPort = {
  /** System priority, 16 bits; lower wins. */
  readonly systemPriority: number;
  /** System address. */
  readonly system: Hardware;
  /** Key: ports of one system with one key may aggregate. */
  readonly key: number;
  /** Port priority, 16 bits. Default of the standard: 0x8000. */
  readonly portPriority: number;
  /** Port number, 1 to 65535; 0 where unknown. */
  readonly port: number;
  /** Bit set of `LACP_` constants. */
  readonly state: number;
};

/** One LACP protocol data unit. */
export type Lacpdu = {
  /** Version number; 1 as written here, others survive. */
  readonly version: number;
  /** The sender. */
  readonly actor: LacpPort;
  /** What the sender believes of its partner. */
  readonly partner: LacpPort;
  /** Longest delay of the sender's collector, in tens of microseconds. */
  readonly collectorMaxDelay: number;
};

/** Bytes of a LACPDU behind the EtherType. */
export const LACPDU_LENGTH = 110;

const SUBTYPE = 1;
const ACTOR_AT = 2;
const PARTNER_AT = 22;
const COLLECTOR_AT = 42;
const ACTOR = 1;
const PARTNER = 2;
const COLLECTOR = 3;
const PORT_LENGTH = 20;
const COLLECTOR_LENGTH = 16;

/** Reads the payload of a slow-protocol frame. `unsupported` for subtypes other than LACP. */
export function parseLacpdu(bytes: Uint8Array): Lacpdu | Malformed {
  if (bytes.length < ACTOR_AT) return truncated("LACP", ACTOR_AT, bytes.length);
  const view = viewOf(bytes);
  const subtype = view.getUint8(0);
  if (subtype !== SUBTYPE)
    return { malformed: "unsupported", protocol: "slow protocols", problem: `subtype is ${subtype}` };
  if (bytes.length < LACPDU_LENGTH) return truncated("LACP", LACPDU_LENGTH, bytes.length);
  const fault =
    checkPart(view, ACTOR_AT, ACTOR, PORT_LENGTH) ??
    checkPart(view, PARTNER_AT, PARTNER, PORT_LENGTH) ??
    checkPart(view, COLLECTOR_AT, COLLECTOR, COLLECTOR_LENGTH);
  if (fault !== undefined) return fault;
  return {
    version: view.getUint8(1),
    actor: parsePort(view, ACTOR_AT + 2),
    partner: parsePort(view, PARTNER_AT + 2),
    collectorMaxDelay: view.getUint16(COLLECTOR_AT + 2),
  };
}

/** Writes the payload of a slow-protocol frame. */
export function emitLacpdu(lacpdu: Lacpdu): Uint8Array {
  const bytes = new Uint8Array(LACPDU_LENGTH);
  const view = viewOf(bytes);
  bytes.set(bytesOf(SUBTYPE, lacpdu.version, ACTOR, PORT_LENGTH));
  emitPort(view, ACTOR_AT + 2, lacpdu.actor);
  bytes.set(bytesOf(PARTNER, PORT_LENGTH), PARTNER_AT);
  emitPort(view, PARTNER_AT + 2, lacpdu.partner);
  bytes.set(bytesOf(COLLECTOR, COLLECTOR_LENGTH), COLLECTOR_AT);
  put16(view, COLLECTOR_AT + 2, lacpdu.collectorMaxDelay);
  return bytes;
}

/** One line. */
export function describeLacpdu(lacpdu: Lacpdu): string {
  return `LACP: actor ${describePort(lacpdu.actor)}; partner ${describePort(lacpdu.partner)}`;
}

const STATE_NAMES: readonly (readonly [bit: number, name: string])[] = [
  [LACP_ACTIVITY, "active"],
  [LACP_TIMEOUT, "fast"],
  [LACP_AGGREGATION, "aggregatable"],
  [LACP_SYNCHRONIZATION, "in sync"],
  [LACP_COLLECTING, "collecting"],
  [LACP_DISTRIBUTING, "distributing"],
  [LACP_DEFAULTED, "defaulted"],
  [LACP_EXPIRED, "expired"],
];

function describePort(port: LacpPort): string {
  const state = STATE_NAMES.filter(([bit]) => (port.state & bit) !== 0).map(([, name]) => name);
  return [`${formatHardware(port.system)} port ${port.port} key ${port.key}`, ...state].join(", ");
}

function checkPart(view: DataView, at: number, type: number, length: number): Malformed | undefined {
  if (view.getUint8(at) === type && view.getUint8(at + 1) === length) return undefined;
  return { malformed: "value", protocol: "LACP", problem: `no part ${type} of ${length} bytes at ${at}` };
}

function parsePort(view: DataView, at: number): LacpPort {
  return {
    systemPriority: view.getUint16(at),
    system: getHardware(view, at + 2),
    key: view.getUint16(at + 8),
    portPriority: view.getUint16(at + 10),
    port: view.getUint16(at + 12),
    state: view.getUint8(at + 14),
  };
}

function emitPort(view: DataView, at: number, port: LacpPort): void {
  put16(view, at, port.systemPriority);
  setHardware(view, at + 2, port.system);
  put16(view, at + 8, port.key);
  put16(view, at + 10, port.portPriority);
  put16(view, at + 12, port.port);
  put8(view, at + 14, port.state);
}
