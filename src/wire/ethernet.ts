/**
 * Ethernet II header with a stack of VLAN tags (IEEE 802.3 and 802.1Q; EtherTypes of tags from the 802.1Q YANG module,
 * the rest from memory). 14 bytes and 4 for each tag; the frame check sequence is never part of the bytes.
 */
import { BROADCAST_HARDWARE, formatHardware, type Hardware } from "../address/index.ts";
import { getHardware, put16, refuseToEmit, setHardware, viewOf } from "./bytes.ts";
import { isMalformed, type Malformed, truncated } from "./malformed.ts";

/** EtherType of a customer tag. IEEE 802.1Q. */
export const TPID_CUSTOMER = 0x8100;
/** EtherType of a service tag. IEEE 802.1Q. */
export const TPID_SERVICE = 0x88a8;

/** A VLAN tag. */
export type Tag = {
  /** `TPID_CUSTOMER` or `TPID_SERVICE`. */
  readonly tpid: number;
  /** Priority code point, 0 to 7. */
  readonly priority: number;
  /** Drop eligible indicator. */
  readonly dropEligible: boolean;
  /** VLAN identifier, 12 bits; 0 carries priority only. */
  readonly vlan: number;
};

/** EtherType of IPv4. RFC 894. */
export const ETHERTYPE_IPV4 = 0x0800;
/** EtherType of ARP. From memory. */
export const ETHERTYPE_ARP = 0x0806;
/** EtherType of IPv6. RFC 2464 section 3. */
export const ETHERTYPE_IPV6 = 0x86dd;
/** EtherType of the slow protocols, LACP among them. From memory. */
export const ETHERTYPE_SLOW = 0x8809;
/** Stands for the length field that IEEE 802.3 frames have in place of an EtherType; its value is computed. */
export const LENGTH_FIELD = 0;

/** Bytes of an untagged header. */
const ETHERNET_HEADER_LENGTH = 14;
/** Bytes that one tag adds. */
const TAG_LENGTH = 4;
/** Shortest frame without its check sequence; shorter ones are padded with zeros. IEEE 802.3, from memory: 64 with it. */
const SHORTEST_FRAME = 60;
/** Bytes of the frame check sequence, which nothing here writes. */
export const CHECK_SEQUENCE_LENGTH = 4;
/** Bytes that a frame costs on a line besides itself: preamble and start 8, gap 12. IEEE 802.3, from memory. */
export const LINE_OVERHEAD = 20;

/** Where LACPDUs go; bridges never forward it. IEEE 802.1Q. */
export const SLOW_PROTOCOLS_GROUP: Hardware = 0x0180_c200_0002n;
/** Where BPDUs go. IEEE 802.1Q. */
export const BRIDGE_GROUP: Hardware = 0x0180_c200_0000n;

const SOURCE_AT = 6;
const TYPE_AT = 12;
const LONGEST_LENGTH = 1500;
const LOWEST_ETHERTYPE = 0x0600;

/** An Ethernet frame with its payload unread. */
export type EthernetFrame = {
  /** To which hardware address. */
  readonly destination: Hardware;
  /** From which hardware address. */
  readonly source: Hardware;
  /** Outermost first. */
  readonly tags: readonly Tag[];
  /** 0x0600 and above, or `LENGTH_FIELD`. */
  readonly etherType: number;
  /** What follows; behind an EtherType padding is part of it, behind a length it is not. */
  readonly payload: Uint8Array;
};

/** Reads a frame without its check sequence; frames shorter than `SHORTEST_FRAME` are accepted. */
export function parseEthernet(bytes: Uint8Array): EthernetFrame | Malformed {
  const view = viewOf(bytes);
  const tags: Tag[] = [];
  if (bytes.length < ETHERNET_HEADER_LENGTH) return truncated("Ethernet", ETHERNET_HEADER_LENGTH, bytes.length);
  let at = TYPE_AT;
  while (isTagType(view.getUint16(at))) {
    const needed = at + TAG_LENGTH + 2;
    if (needed > bytes.length) return truncated("Ethernet", needed, bytes.length);
    tags.push(parseTag(view, at));
    at += TAG_LENGTH;
  }
  const payload = cutPayload(view.getUint16(at), bytes.subarray(at + 2));
  if (isMalformed(payload)) return payload;
  return { destination: getHardware(view, 0), source: getHardware(view, SOURCE_AT), tags, ...payload };
}

/** Writes a frame without its check sequence, padded to `SHORTEST_FRAME`. */
export function emitEthernet(frame: EthernetFrame): Uint8Array {
  const bytes = new Uint8Array(ethernetLength(frame.tags.length, frame.payload.length));
  const view = viewOf(bytes);
  setHardware(view, 0, frame.destination);
  setHardware(view, SOURCE_AT, frame.source);
  frame.tags.forEach((tag, index) => {
    emitTag(view, TYPE_AT + index * TAG_LENGTH, tag);
  });
  const typeAt = TYPE_AT + frame.tags.length * TAG_LENGTH;
  put16(view, typeAt, typeField(frame));
  bytes.set(frame.payload, typeAt + 2);
  return bytes;
}

/** Bytes of a frame with so many tags and so much payload: padding included, check sequence not. */
export function ethernetLength(tags: number, payload: number): number {
  return Math.max(SHORTEST_FRAME, ETHERNET_HEADER_LENGTH + tags * TAG_LENGTH + payload);
}

/** One line about header and tags, without the payload. */
export function describeEthernet(frame: Pick<EthernetFrame, "destination" | "source" | "tags">): string {
  const to = frame.destination === BROADCAST_HARDWARE ? "everyone" : formatHardware(frame.destination);
  const ends = `${formatHardware(frame.source)} to ${to}`;
  return [ends, ...frame.tags.map(describeTag)].join(", ");
}

function typeField({ etherType, payload }: EthernetFrame): number {
  if (etherType !== LENGTH_FIELD)
    return etherType < LOWEST_ETHERTYPE ? refuseToEmit("Ethernet", "EtherType", etherType) : etherType;
  return payload.length > LONGEST_LENGTH ? refuseToEmit("Ethernet", "length field", payload.length) : payload.length;
}

function isTagType(type: number): boolean {
  return type === TPID_CUSTOMER || type === TPID_SERVICE;
}

function parseTag(view: DataView, at: number): Tag {
  const control = view.getUint16(at + 2);
  return {
    tpid: view.getUint16(at),
    priority: control >> 13,
    dropEligible: (control & 0x1000) !== 0,
    vlan: control & 0xfff,
  };
}

function emitTag(view: DataView, at: number, tag: Tag): void {
  if (!isTagType(tag.tpid)) refuseToEmit("Ethernet", "tag protocol identifier", tag.tpid);
  if (tag.vlan > 0xfff) refuseToEmit("Ethernet", "VLAN", tag.vlan);
  if (tag.priority > 7) refuseToEmit("Ethernet", "priority", tag.priority);
  put16(view, at, tag.tpid);
  put16(view, at + 2, (tag.priority << 13) | (tag.dropEligible ? 0x1000 : 0) | tag.vlan);
}

function cutPayload(type: number, rest: Uint8Array): { etherType: number; payload: Uint8Array } | Malformed {
  if (type >= LOWEST_ETHERTYPE) return { etherType: type, payload: rest.slice() };
  if (type > LONGEST_LENGTH)
    return { malformed: "value", protocol: "Ethernet", problem: `${type} is neither a length nor an EtherType` };
  if (type > rest.length) return truncated("Ethernet", type, rest.length);
  return { etherType: LENGTH_FIELD, payload: rest.slice(0, type) };
}

function describeTag(tag: Tag): string {
  const name = tag.tpid === TPID_SERVICE ? "service VLAN" : "VLAN";
  const priority = tag.priority === 0 ? "" : ` priority ${tag.priority}`;
  return `${name} ${tag.vlan}${priority}${tag.dropEligible ? " drop eligible" : ""}`;
}
