/**
 * Leaves that are numbers: plain ones with bounds, durations, rates, sizes, VLANs, host numbers, ranges of each.
 * Digits mean what they say: `010` is refused rather than read as 8 or 10.
 */
import { parseNumber, parseNumberRange, parseVlan, type RangeProblem } from "../address/index.ts";
import { shorten } from "./node.ts";
import { type JsonSchema, leaf, type Problem, type Shape } from "./shape.ts";
import type { Located, NetworkOrVlans, NumberRange } from "./values.ts";

/** Bounds of a number, both included. */
export type Bounds = {
  /** The smallest. */
  readonly low: number;
  /** The largest. */
  readonly high: number;
  /** Only multiples of it; default 1. */
  readonly step?: number;
};

/** A whole number within bounds; `what` names it: "a priority". */
export function wholeNumber(what: string, bounds: Bounds): Shape<Located<number>> {
  const { low, high, step = 1 } = bounds;
  const steps = step === 1 ? "" : `, in steps of ${step}`;
  const says = `${what}, ${low} to ${high}${steps}`;
  return leaf<number>({
    says,
    parse(text) {
      const value = Number(parseNumber(text) ?? -1n);
      if (value >= low && value <= high && value % step === 0) return value;
      return { refuse: "bad-number", message: `\`${shorten(text)}\` is not ${says}` };
    },
    schema: numberSchema({ minimum: low, maximum: high, ...(step === 1 ? {} : { multipleOf: step }) }),
  });
}

/** A number that a failsafe parser gives as text. */
function numberSchema(bounds: JsonSchema): JsonSchema {
  return {
    anyOf: [
      { type: "integer", ...bounds },
      { type: "string", pattern: "^(0|[1-9][0-9]*)$" },
    ],
  };
}

/** Bytes that a frame or packet may hold. */
export function mtu(smallest: number): Shape<Located<number>> {
  const says = `a number of bytes, ${smallest} to 65535`;
  return leaf<number>({
    says,
    parse(text) {
      const value = Number(parseNumber(text) ?? -1n);
      if (value >= smallest && value <= 65535) return value;
      const [, digits] = /^(\d+)\s*(?:b|bytes?)$/i.exec(text) ?? [];
      const help = digits === undefined ? undefined : `write \`${digits}\``;
      return { refuse: "bad-size", message: `\`${shorten(text)}\` is not ${says}`, help };
    },
    schema: numberSchema({ minimum: smallest, maximum: 65535 }),
  });
}

const SECONDS: ReadonlyMap<string, number> = new Map([
  ["ms", 0.001],
  ["s", 1],
  ["m", 60],
  ["h", 3600],
  ["d", 86400],
]);
const DURATION = /^(0|[1-9]\d*)(ms|s|m|h|d)$/;
const LONGEST_SECONDS = 2 ** 32 - 1; // the longest time that a lease can say (RFC 2131 section 3.3)

/** A length of time, in seconds. */
export const duration: Shape<Located<number>> = leaf<number>({
  says: "a duration such as `12h`",
  parse: parseDuration,
  schema: { type: "string", pattern: DURATION.source },
});

function parseDuration(text: string): number | Problem {
  const [, digits = "", unit = ""] = DURATION.exec(text) ?? [];
  const seconds = milliseconds(digits, unit) / 1000;
  if (digits !== "" && seconds <= LONGEST_SECONDS) return seconds;
  if (/^\d+$/.test(text))
    return { refuse: "unit-missing", message: `\`${text}\` has no unit`, notes: UNITS, help: unitHelp(text) };
  return {
    refuse: "bad-duration",
    message: `\`${shorten(text)}\` is not a duration`,
    notes: UNITS,
    help: durationHelp(text),
  };
}

function milliseconds(digits: string, unit: string): number {
  return Math.round(Number(digits) * (SECONDS.get(unit) ?? 0) * 1000);
}

const UNITS = ["the units of time are `ms`, `s`, `m`, `h` and `d`"];

function unitHelp(text: string): string {
  return Number(text) === 0 ? "write `0s`" : `write \`${text}s\` if seconds are meant`;
}

function durationHelp(text: string): string | undefined {
  const [, digits, word = ""] = /^(\d+)\s*([a-z]+)$/i.exec(text) ?? [];
  // `1:30` is minutes and seconds to some, hours and minutes to others.
  const [, whole, part] = /^(\d+):([0-5]\d)$/.exec(text) ?? [];
  const small = Number(whole) * 60 + Number(part);
  if (whole !== undefined) return `write \`${small}s\` or \`${small}m\`, whichever is meant`;
  const unit =
    word.toLowerCase().startsWith("ms") || word.toLowerCase().startsWith("milli") ? "ms" : word.charAt(0).toLowerCase();
  return digits !== undefined && SECONDS.has(unit) ? `write \`${digits}${unit}\`` : undefined;
}

const MEGABITS: ReadonlyMap<string, number> = new Map([
  ["M", 1],
  ["G", 1000],
  ["T", 1_000_000],
]);
/** A rate as it is written. */
export const RATE: RegExp = /^((?:0|[1-9]\d*)(?:\.\d+)?)([MGT])$/;
const LARGEST_RATE = 10_000_000; // 10 Tbit/s, the fastest rate that path costs are given for (IEEE 802.1Q table of costs)

/** A line rate, in Mbit/s. */
export const rate: Shape<Located<number>> = leaf<number>({
  says: "a rate such as `1G`",
  parse: parseRate,
  schema: { type: "string", pattern: RATE.source },
});

/** A rate in Mbit/s, or what is wrong with its text. */
export function parseRate(text: string): number | Problem {
  const [, digits = "", unit = ""] = RATE.exec(text) ?? [];
  const value = Number(digits) * (MEGABITS.get(unit) ?? 0);
  if (value > 0 && value <= LARGEST_RATE) return value;
  const notes = ["the units of a rate are `M`, `G` and `T`, in bits per second"];
  if (/^\d+(?:\.\d+)?$/.test(text))
    return { refuse: "unit-missing", message: `\`${text}\` has no unit`, notes, help: rateGuess(text) };
  return { refuse: "bad-rate", message: `\`${shorten(text)}\` is not a rate`, notes, help: rateHelp(text) };
}

function rateGuess(text: string): string | undefined {
  const known: ReadonlyMap<string, string> = new Map([
    ["100", "100M"],
    ["1000", "1G"],
    ["2500", "2.5G"],
    ["5000", "5G"],
    ["10000", "10G"],
  ]);
  const meant = known.get(text);
  return meant === undefined ? undefined : `write \`${meant}\` if Mbit/s are meant`;
}

function rateHelp(text: string): string | undefined {
  const [, digits, unit = ""] = /^(\d+(?:\.\d+)?)\s*([mgt])(?:b|bit|bps|bit\/s|b\/s|be|bits)?$/i.exec(text) ?? [];
  return digits === undefined ? undefined : `write \`${digits}${unit.toUpperCase()}\``;
}

/** A VLAN number. */
export const vlan: Shape<Located<number>> = leaf<number>({
  says: "a VLAN number, 1 to 4094",
  parse: (text) => parseVlan(text) ?? badVlan(text),
  schema: numberSchema({ minimum: 1, maximum: 4094 }),
});

function badVlan(text: string): Problem {
  return { refuse: "bad-vlan", message: `\`${shorten(text)}\` is not a VLAN number, 1 to 4094` };
}

const VLANS = { low: 1n, high: 4094n };

/** Reads a network's name, or VLAN numbers. */
function parseNetworkOrVlans(text: string): NetworkOrVlans | Problem {
  if (/\p{L}/u.test(text)) return { by: "name", name: text };
  if (text.includes(","))
    return {
      refuse: "bad-range",
      message: `\`${shorten(text)}\` is not one VLAN or range`,
      help: `write a list: \`[${text.split(",").join(", ")}]\``,
    };
  const range = parseNumberRange(text, VLANS);
  if (!("problem" in range)) return { by: "vlans", first: Number(range.low), last: Number(range.high) };
  return range.problem === "outside"
    ? { ...badVlan(range.piece), piece: [range.at, range.at + range.piece.length] }
    : rangeTrouble(text, range);
}

const NETWORK_SCHEMA: JsonSchema = {
  anyOf: [
    { type: "integer", minimum: 1, maximum: 4094 },
    { type: "string", minLength: 1 },
  ],
};

/** A network by name, or VLANs by number. */
export const networkOrVlans: Shape<Located<NetworkOrVlans>> = leaf<NetworkOrVlans>({
  says: "a network, a VLAN number or a range such as `10-19`",
  parse: parseNetworkOrVlans,
  schema: NETWORK_SCHEMA,
});

/** Reads a network's name, or a single VLAN number. */
export function parseNetworkOrVlan(text: string): NetworkOrVlans | Problem {
  const value = parseNetworkOrVlans(text);
  const several = "by" in value && value.by === "vlans" && value.first !== value.last;
  return several ? { refuse: "bad-range", message: `\`${text}\` is several VLANs, and one is asked for` } : value;
}

/** Where one VLAN is meant: a network, or a single number. */
export const networkOrVlan: Shape<Located<NetworkOrVlans>> = leaf<NetworkOrVlans>({
  says: "a network or a VLAN number",
  parse: parseNetworkOrVlan,
  schema: NETWORK_SCHEMA,
});

/** What is wrong with a range, as a diagnostic. */
function rangeTrouble(text: string, { problem, piece, at }: RangeProblem, ofAddresses?: string): Problem {
  const place: readonly [number, number] = [at, at + piece.length];
  if (problem === "backwards") {
    const turned = text.split("-").reverse().join("-");
    return {
      refuse: "range-backwards",
      message: `the range \`${shorten(text)}\` ends before it begins`,
      help: `write \`${turned}\``,
      piece: place,
    };
  }
  if (problem === "outside")
    return { refuse: "bad-range", message: `\`${shorten(piece)}\` is out of bounds here`, piece: place };
  const dots = /^(\d+)\.\.(\d+)$/.exec(text);
  const help = dots === null ? undefined : `write \`${dots[1]}-${dots[2]}\``;
  const notes = ofAddresses !== undefined && ADDRESS.test(text) ? [ofAddresses] : [];
  const message = `\`${shorten(text)}\` is not a number or a range such as \`100-199\``;
  return { refuse: "bad-range", message, notes, help };
}

const ADDRESS = /^\d+(?:\.\d+){3}/;

function rangeShape(says: string, low: bigint, high: bigint, ofAddresses?: string): Shape<Located<NumberRange>> {
  return leaf<NumberRange>({
    says,
    parse(text) {
      const range = parseNumberRange(text, { low, high });
      return "problem" in range
        ? rangeTrouble(text, range, ofAddresses)
        : { first: Number(range.low), last: Number(range.high) };
    },
    schema: {
      anyOf: [
        { type: "integer", minimum: Number(low), maximum: Number(high) },
        { type: "string", pattern: "^[0-9]+(-[0-9]+)?$" },
      ],
    },
  });
}

/** A port of TCP or UDP, or a range of them. */
export const portRange: Shape<Located<NumberRange>> = rangeShape("a port or a range such as `8000-8080`", 0n, 65535n);

/** Host numbers of an IPv4 prefix. */
export const hostRange: Shape<Located<NumberRange>> = rangeShape(
  "host numbers such as `100-199`",
  0n,
  4294967295n,
  "host numbers count from the beginning of the prefix: in `10.71.30.0/24`, `100` is 10.71.30.100",
);

/** Host number in the prefixes of a network. */
export const hostNumber: Shape<Located<number>> = wholeNumber("a host number", { low: 0, high: 4294967295 });
