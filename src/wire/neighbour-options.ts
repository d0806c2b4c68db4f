/**
 * Options of neighbour discovery: link-layer addresses, prefix, MTU (RFC 4861 section 4.6, RFC 2464 section 6) and
 * resolvers (RFC 8106, from memory). Lengths count units of 8 bytes. Unknown types survive as bytes.
 */
import {
  type Address,
  formatAddress,
  formatHardware,
  formatPrefix,
  type Hardware,
  type Prefix,
  prefixOf,
} from "../address/index.ts";
import {
  addressBytes,
  bytesOf,
  concat,
  getAddress6,
  getHardware,
  put32,
  refuseToEmit,
  setAddress,
  setHardware,
  viewOf,
} from "./bytes.ts";
import { type Malformed, truncated } from "./malformed.ts";

/** One option of a neighbour discovery message. */
export type NeighbourOption =
  | {
      /** Type 1: the sender's own hardware address. Type 2: the target's. */
      readonly kind: "source-link" | "target-link";
      /** An Ethernet address. */
      readonly hardware: Hardware;
    }
  | {
      /** Type 3: a prefix of this link. */
      readonly kind: "prefix";
      /** The prefix; bits behind its length are ignored when read and zero when written. */
      readonly prefix: Prefix;
      /** Flag L: addresses of the prefix are on this link. */
      readonly onLink: boolean;
      /** Flag A: hosts may form addresses from it. */
      readonly autonomous: boolean;
      /** Time the prefix stays valid; 0xffffffff is for ever. */
      readonly validSeconds: number;
      /** Time its addresses stay preferred; 0xffffffff is for ever. */
      readonly preferredSeconds: number;
    }
  | {
      /** Type 5: the MTU of this link. */
      readonly kind: "mtu";
      /** Bytes of the largest IP packet. */
      readonly mtu: number;
    }
  | {
      /** Type 25: recursive resolvers. */
      readonly kind: "resolvers";
      /** Time they may be used; 0: no longer. */
      readonly lifetimeSeconds: number;
      /** IPv6 addresses, at least one. */
      readonly addresses: readonly Address[];
    }
  | {
      /** Any other type. */
      readonly kind: "other";
      /** Option type. */
      readonly type: number;
      /** Content behind type and length; 6 bytes more than a multiple of 8. */
      readonly bytes: Uint8Array;
    };

const SOURCE_LINK = 1;
const TARGET_LINK = 2;
const PREFIX = 3;
const MTU = 5;
const RESOLVERS = 25;
const UNIT = 8;
const ON_LINK = 0x80;
const AUTONOMOUS = 0x40;

/** Reads all options of a message. */
export function parseNeighbourOptions(bytes: Uint8Array): readonly NeighbourOption[] | Malformed {
  const options: NeighbourOption[] = [];
  let at = 0;
  while (at < bytes.length) {
    const length = (bytes[at + 1] ?? 0) * UNIT;
    if (at + 1 < bytes.length && length === 0)
      return { malformed: "length", protocol: "neighbour discovery", problem: "an option has length 0" };
    if (length === 0 || at + length > bytes.length)
      return truncated("neighbour discovery option", Math.max(length, UNIT), bytes.length - at);
    options.push(parseNeighbourOption(bytes.subarray(at, at + length)));
    at += length;
  }
  return options;
}

/** Writes all options of a message. */
export function emitNeighbourOptions(options: readonly NeighbourOption[]): Uint8Array {
  return concat(...options.map(emitNeighbourOption));
}

/** One line. */
export function describeNeighbourOption(option: NeighbourOption): string {
  switch (option.kind) {
    case "source-link":
      return `sender at ${formatHardware(option.hardware)}`;
    case "target-link":
      return `target at ${formatHardware(option.hardware)}`;
    case "prefix":
      return `prefix ${formatPrefix(option.prefix)}`;
    case "mtu":
      return `MTU ${option.mtu}`;
    case "resolvers":
      return `resolvers ${option.addresses.map(formatAddress).join(" ")}`;
    case "other":
      return `option ${option.type}`;
  }
}

/** The hardware address that options of this kind announce, if they do. */
export function linkAddress(
  options: readonly NeighbourOption[],
  kind: "source-link" | "target-link",
): Hardware | undefined {
  const found = options.find((option) => option.kind === kind);
  return found !== undefined && "hardware" in found ? found.hardware : undefined;
}

// A known type of an unexpected length is kept as bytes: receivers ignore what they cannot read (RFC 4861 section 4.6).
function parseNeighbourOption(bytes: Uint8Array): NeighbourOption {
  const view = viewOf(bytes);
  const type = view.getUint8(0);
  if ((type === SOURCE_LINK || type === TARGET_LINK) && bytes.length === 8)
    return { kind: type === SOURCE_LINK ? "source-link" : "target-link", hardware: getHardware(view, 2) };
  if (type === PREFIX && bytes.length === 32 && view.getUint8(2) <= 128) return parsePrefix(view);
  if (type === MTU && bytes.length === 8) return { kind: "mtu", mtu: view.getUint32(4) };
  if (type === RESOLVERS && bytes.length >= 24 && bytes.length % 16 === 8) return parseResolvers(view);
  return { kind: "other", type, bytes: bytes.slice(2) };
}

function parsePrefix(view: DataView): NeighbourOption {
  const flags = view.getUint8(3);
  return {
    kind: "prefix",
    prefix: prefixOf(getAddress6(view, 16), view.getUint8(2)),
    onLink: (flags & ON_LINK) !== 0,
    autonomous: (flags & AUTONOMOUS) !== 0,
    validSeconds: view.getUint32(4),
    preferredSeconds: view.getUint32(8),
  };
}

function parseResolvers(view: DataView): NeighbourOption {
  const count = (view.byteLength - UNIT) / 16;
  return {
    kind: "resolvers",
    lifetimeSeconds: view.getUint32(4),
    addresses: Array.from({ length: count }, (_, index) => getAddress6(view, UNIT + index * 16)),
  };
}

function emitNeighbourOption(option: NeighbourOption): Uint8Array {
  switch (option.kind) {
    case "source-link":
    case "target-link":
      return emitLink(option.kind === "source-link" ? SOURCE_LINK : TARGET_LINK, option.hardware);
    case "prefix":
      return emitPrefix(option);
    case "mtu":
      return emitMtu(option.mtu);
    case "resolvers":
      return emitResolvers(option.lifetimeSeconds, option.addresses);
    case "other":
      return emitOther(option.type, option.bytes);
  }
}

function emitLink(type: number, hardware: Hardware): Uint8Array {
  const bytes = bytesOf(type, 1, 0, 0, 0, 0, 0, 0);
  setHardware(viewOf(bytes), 2, hardware);
  return bytes;
}

function emitPrefix(option: Extract<NeighbourOption, { kind: "prefix" }>): Uint8Array {
  const bytes = new Uint8Array(32);
  const view = viewOf(bytes);
  const flags = (option.onLink ? ON_LINK : 0) | (option.autonomous ? AUTONOMOUS : 0);
  bytes.set(bytesOf(PREFIX, 4, option.prefix.length, flags));
  put32(view, 4, option.validSeconds);
  put32(view, 8, option.preferredSeconds);
  setAddress(view, 16, option.prefix);
  return bytes;
}

function emitMtu(mtu: number): Uint8Array {
  const bytes = bytesOf(MTU, 1, 0, 0, 0, 0, 0, 0);
  put32(viewOf(bytes), 4, mtu);
  return bytes;
}

function emitResolvers(lifetimeSeconds: number, addresses: readonly Address[]): Uint8Array {
  const head = bytesOf(RESOLVERS, 1 + 2 * addresses.length, 0, 0, 0, 0, 0, 0);
  put32(viewOf(head), 4, lifetimeSeconds);
  return concat(head, addressBytes(...addresses));
}

function emitOther(type: number, content: Uint8Array): Uint8Array {
  const length = content.length + 2;
  if (length % UNIT !== 0 || length > 255 * UNIT)
    refuseToEmit("neighbour discovery", "option of so many bytes", length);
  return concat(bytesOf(type, length / UNIT), content);
}
