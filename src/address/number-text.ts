/**
 * Numbers, ranges and lists of ranges as text: `100`, `100-199`, `1,10-100,250`. Decimal without leading zeros or blanks;
 * both ends of a range belong to it. A list ascends and its members never overlap, as the VLAN lists of the IEEE 802.1Q
 * YANG module's `vid-range-type` do. What is wrong is answered as data, with the piece of the text that is.
 */
import { normalizeRanges, type Ranges } from "./ranges.ts";

/** The numbers that a range may hold, both included. */
export type NumberBounds = {
  /** The smallest. */
  readonly low: bigint;
  /** The largest. */
  readonly high: bigint;
};

/** Why a text is no range. */
export type RangeProblem = {
  /** `form`: not written as a range; `outside`: beyond the bounds; `backwards`: ends before it begins; `order`: a list that does not ascend or overlaps. */
  readonly problem: "form" | "outside" | "backwards" | "order";
  /** The piece of the text that is wrong. */
  readonly piece: string;
  /** Offset of that piece in the text. */
  readonly at: number;
};

/** A range read from text. */
export type NumberRange = {
  /** First number, included. */
  readonly low: bigint;
  /** Last number, included; at least `low`. */
  readonly high: bigint;
};

// 39 digits hold every IPv6 host number; more are refused before any arithmetic.
const NUMBER_TEXT = /^(?:0|[1-9]\d{0,38})$/;

/** Reads a decimal number of at most 39 digits without sign, leading zeros or blanks. */
export function parseNumber(text: string): bigint | undefined {
  return NUMBER_TEXT.test(text) ? BigInt(text) : undefined;
}

/** Reads `100-199` or a single `100`, whose ends are within the bounds. */
export function parseNumberRange(text: string, bounds: NumberBounds): NumberRange | RangeProblem {
  return rangeAt(text, 0, bounds);
}

function rangeAt(piece: string, at: number, bounds: NumberBounds): NumberRange | RangeProblem {
  const dash = piece.indexOf("-");
  const lowText = dash < 0 ? piece : piece.slice(0, dash);
  const highText = dash < 0 ? piece : piece.slice(dash + 1);
  const low = parseNumber(lowText);
  const high = parseNumber(highText);
  if (low === undefined || high === undefined) return { problem: "form", piece, at };
  if (low < bounds.low || low > bounds.high) return { problem: "outside", piece: lowText, at };
  if (high < bounds.low || high > bounds.high) return { problem: "outside", piece: highText, at: at + dash + 1 };
  if (high < low) return { problem: "backwards", piece, at };
  return { low, high };
}

/** Reads an ascending list of numbers and ranges that do not overlap, joined by commas. */
export function parseRanges(text: string, bounds: NumberBounds): Ranges | RangeProblem {
  const pairs: (readonly [bigint, bigint])[] = [];
  let at = 0;
  let last = bounds.low - 1n;
  for (const piece of text.split(",")) {
    const range = rangeAt(piece, at, bounds);
    if ("problem" in range) return range;
    if (range.low <= last) return { problem: "order", piece, at };
    pairs.push([range.low, range.high]);
    last = range.high;
    at += piece.length + 1;
  }
  return normalizeRanges(pairs);
}

/** Numbers of TCP and UDP ports. Port 0 is reserved, yet fits in a packet and may be matched (RFC 6335 section 6, from memory). */
const PORTS: NumberBounds = { low: 0n, high: 65535n };

/** Reads a port `443` or a range of ports `8000-8080`. */
export function parsePortRange(text: string): NumberRange | RangeProblem {
  return parseNumberRange(text, PORTS);
}

/** Numbers of VLANs: 0 and 4095 are reserved (IEEE 802.1Q YANG, `vlanid`). */
const VLANS: NumberBounds = { low: 1n, high: 4094n };

/** Reads a VLAN number, 1 to 4094; undefined for anything else. */
export function parseVlan(text: string): number | undefined {
  const value = parseNumber(text);
  return value === undefined || value < VLANS.low || value > VLANS.high ? undefined : Number(value);
}

/** Reads a list of VLANs: `1,10-100,250`, ascending, without overlap, each 1 to 4094. */
export function parseVlans(text: string): Ranges | RangeProblem {
  return parseRanges(text, VLANS);
}

/** The text of a set of numbers, as `parseRanges` reads it: `1,10-100,250`; empty for the empty set. */
export function formatRanges(set: Ranges): string {
  return set.map(([low, high]) => (low === high ? `${low}` : `${low}-${high}`)).join(",");
}
