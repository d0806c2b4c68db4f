/**
 * IP addresses: a family and a number. Text follows RFC 4291 section 2.2 (read) and RFC 5952 (written) for IPv6,
 * and four decimal numbers for IPv4 (RFC 6943 section 3.1.1 on why the looser forms are dangerous).
 * Reading is strict: no leading zeros, no short or octal IPv4 forms, no zone, no blanks.
 */

/** The version of the internet protocol. */
export type Family = 4 | 6;

/** An address of either family. */
export type Address = {
  /** 4 or 6; addresses of different families are never equal. */
  readonly family: Family;
  /** The bits as a number, first bit on the wire highest: 0 to 2^32-1 or 0 to 2^128-1. */
  readonly value: bigint;
};

/** Bits of an address. */
export function widthOf(family: Family): 32 | 128 {
  return family === 4 ? 32 : 128;
}

const DOT = 46;
const COLON = 58;
const ZERO = 48;
const GROUPS = 8; // 16-bit groups of an IPv6 address

/** Reads an address in its strict text form; undefined for anything else. Upper and lower case hexadecimal are equal. */
export function parseAddress(text: string): Address | undefined {
  if (text.includes(":")) {
    const value = parseIpv6(text);
    return value === undefined ? undefined : { family: 6, value };
  }
  const value = parseIpv4(text, 0);
  return value === undefined ? undefined : { family: 4, value: BigInt(value) };
}

/** Four decimal numbers from `from` to the end of the text, as an unsigned number. */
function parseIpv4(text: string, from: number): number | undefined {
  let value = 0;
  let position = from;
  for (let part = 0; part < 4; part++) {
    if (part > 0 && text.charCodeAt(position++) !== DOT) return undefined;
    const end = digitsEnd(text, position);
    const byte = decimalByte(text, position, end);
    if (byte === undefined) return undefined;
    value = value * 256 + byte;
    position = end;
  }
  return position === text.length ? value : undefined;
}

function digitsEnd(text: string, from: number): number {
  let end = from;
  while (end < text.length && isDigit(text.charCodeAt(end))) end++;
  return end;
}

function isDigit(code: number): boolean {
  return code >= ZERO && code <= ZERO + 9;
}

function decimalByte(text: string, from: number, end: number): number | undefined {
  const length = end - from;
  if (length < 1 || length > 3) return undefined;
  if (length > 1 && text.charCodeAt(from) === ZERO) return undefined;
  let byte = 0;
  for (let at = from; at < end; at++) byte = byte * 10 + text.charCodeAt(at) - ZERO;
  return byte <= 255 ? byte : undefined;
}

function parseIpv6(text: string): bigint | undefined {
  const gap = text.indexOf("::");
  if (gap < 0) {
    const groups = parseGroups(text, 0, text.length);
    return groups?.length === GROUPS ? joinGroups(groups) : undefined;
  }
  const head = parseGroups(text, 0, gap);
  const tail = parseGroups(text, gap + 2, text.length);
  if (head === undefined || tail === undefined) return undefined;
  // `::` stands for one or more groups (RFC 4291 section 2.2), never for none.
  const missing = GROUPS - head.length - tail.length;
  if (missing < 1) return undefined;
  return joinGroups([...head, ...new Array<number>(missing).fill(0), ...tail]);
}

/**
 * The 16-bit groups between two offsets, none for an empty piece. A dotted IPv4 address may stand only where the
 * whole text ends, as the last 32 bits.
 */
function parseGroups(text: string, from: number, end: number): number[] | undefined {
  const groups: number[] = [];
  let position = from;
  while (position < end) {
    if (groups.length > 0 && text.charCodeAt(position++) !== COLON) return undefined;
    const stop = hexEnd(text, position, end);
    if (stop < end && text.charCodeAt(stop) === DOT)
      return end === text.length ? withDotted(groups, text, position) : undefined;
    const group = hexGroup(text, position, stop);
    if (group === undefined) return undefined;
    groups.push(group);
    position = stop;
  }
  return groups.length > GROUPS ? undefined : groups;
}

function withDotted(groups: number[], text: string, from: number): number[] | undefined {
  const value = parseIpv4(text, from);
  if (value === undefined) return undefined;
  groups.push(Math.floor(value / 65536), value % 65536);
  return groups;
}

function hexEnd(text: string, from: number, limit: number): number {
  let end = from;
  while (end < limit && hexDigit(text.charCodeAt(end)) >= 0) end++;
  return end;
}

/** Value of a hexadecimal digit, or -1. */
function hexDigit(code: number): number {
  if (isDigit(code)) return code - ZERO;
  const lower = code | 32;
  return lower >= 97 && lower <= 102 ? lower - 87 : -1;
}

function hexGroup(text: string, from: number, end: number): number | undefined {
  if (end === from || end - from > 4) return undefined;
  let group = 0;
  for (let at = from; at < end; at++) group = group * 16 + hexDigit(text.charCodeAt(at));
  return group;
}

function joinGroups(groups: readonly number[]): bigint {
  let value = 0n;
  for (let at = 0; at < GROUPS; at += 2) {
    const word = (groups[at] ?? 0) * 65536 + (groups[at + 1] ?? 0);
    value = (value << 32n) | BigInt(word);
  }
  return value;
}

/**
 * The one recommended text of an address: RFC 5952 section 4 for IPv6, with the mixed notation of its section 5 for
 * IPv4-mapped addresses (::ffff:0:0/96). `parseAddress` reads it back to the same address.
 */
export function formatAddress(address: Address): string {
  return address.family === 4 ? formatIpv4(Number(address.value)) : formatIpv6(address.value);
}

function formatIpv4(value: number): string {
  return `${Math.floor(value / 16777216)}.${(value >>> 16) & 255}.${(value >>> 8) & 255}.${value & 255}`;
}

const MAPPED_HIGH = 0xffffn; // the first 96 bits of ::ffff:0:0/96

function formatIpv6(value: bigint): string {
  if (value >> 32n === MAPPED_HIGH) return `::ffff:${formatIpv4(Number(value & 0xffffffffn))}`;
  const groups = splitGroups(value);
  const [start, length] = longestZeroRun(groups);
  if (length < 2) return hexText(groups, 0, GROUPS);
  return `${hexText(groups, 0, start)}::${hexText(groups, start + length, GROUPS)}`;
}

function splitGroups(value: bigint): number[] {
  const groups: number[] = [];
  for (let shift = 96n; shift >= 0n; shift -= 32n) {
    const word = Number((value >> shift) & 0xffffffffn);
    groups.push(word >>> 16, word & 65535);
  }
  return groups;
}

/** First of the longest runs of zero groups (RFC 5952 section 4.2.3). */
function longestZeroRun(groups: readonly number[]): readonly [start: number, length: number] {
  let best: readonly [number, number] = [0, 0];
  let run = 0;
  for (const [index, group] of groups.entries()) {
    run = group === 0 ? run + 1 : 0;
    if (run > best[1]) best = [index - run + 1, run];
  }
  return best;
}

function hexText(groups: readonly number[], from: number, end: number): string {
  let text = "";
  for (let at = from; at < end; at++) text += (at > from ? ":" : "") + (groups[at] ?? 0).toString(16);
  return text;
}
