/**
 * PPPoE session frames (RFC 2516 sections 4 and 6): 6 bytes of header, then a PPP frame whose protocol says what it carries.
 * `parseSession` guarantees that the payload is what the length field claims; frames of discovery have an EtherType of their
 * own (0x8863) and are not read here.
 */
import { put16, refuseToEmit, viewOf } from "./bytes.ts";
import { type Malformed, truncated } from "./malformed.ts";

/** EtherType of the session stage. RFC 2516 section 4. */
export const ETHERTYPE_SESSION = 0x8864;
/** Bytes before the packet: header 6, PPP protocol 2. RFC 2516 sections 4 and 7. */
export const SESSION_OVERHEAD = 8;
/** PPP protocol of IPv4. RFC 1332 section 2, from memory. */
export const PPP_IPV4 = 0x0021;
/** PPP protocol of IPv6. RFC 5072 section 2, from memory. */
export const PPP_IPV6 = 0x0057;

const SESSION_AT = 2;
const LENGTH_AT = 4; // claims the PPP frame, its protocol included, in bytes
const PROTOCOL_AT = 6;
const VERSION_AND_TYPE = 0x11; // version 1, type 1
const CODE_SESSION = 0x00;
const LONGEST = 0xffff;

/** A session frame with its payload unread. */
export type SessionFrame = {
  /** Which session, 1 to 65534. */
  readonly session: number;
  /** PPP protocol of the payload. */
  readonly protocol: number;
  /** What the PPP frame carries. */
  readonly payload: Uint8Array;
};

/** Reads what follows the EtherType; bytes behind the length are padding. */
export function parseSession(bytes: Uint8Array): SessionFrame | Malformed {
  if (bytes.length < SESSION_OVERHEAD) return truncated("PPPoE", SESSION_OVERHEAD, bytes.length);
  const view = viewOf(bytes);
  if (view.getUint8(0) !== VERSION_AND_TYPE || view.getUint8(1) !== CODE_SESSION)
    return { malformed: "unsupported", protocol: "PPPoE", problem: "no frame of version 1 and the session stage" };
  const length = view.getUint16(LENGTH_AT);
  if (length < 2) return { malformed: "length", protocol: "PPPoE", problem: `length ${length} is below a protocol's` };
  if (PROTOCOL_AT + length > bytes.length) return truncated("PPPoE", PROTOCOL_AT + length, bytes.length);
  return {
    session: view.getUint16(SESSION_AT),
    protocol: view.getUint16(PROTOCOL_AT),
    payload: bytes.slice(SESSION_OVERHEAD, PROTOCOL_AT + length),
  };
}

/** Writes what follows the EtherType, the length computed. */
export function emitSession({ session, protocol, payload }: SessionFrame): Uint8Array {
  const bytes = new Uint8Array(SESSION_OVERHEAD + payload.length);
  const length = payload.length + 2;
  if (length > LONGEST) refuseToEmit("PPPoE", "length", length);
  const view = viewOf(bytes);
  bytes[0] = VERSION_AND_TYPE;
  bytes[1] = CODE_SESSION;
  put16(view, SESSION_AT, session);
  put16(view, LENGTH_AT, length);
  put16(view, PROTOCOL_AT, protocol);
  bytes.set(payload, SESSION_OVERHEAD);
  return bytes;
}

/** One line about the session, without the packet. */
export function describeSession({ session }: Pick<SessionFrame, "session">): string {
  return `PPPoE session ${session}`;
}
