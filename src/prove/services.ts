/**
 * Sets of services: what packets of a set ask for, whatever else they are. By protocol number, the destination ports of
 * TCP, UDP and SCTP, the messages of ICMP and ICMPv6 (type and code in one number), or the protocol as a whole.
 */
import {
  EVERY_SERVICE,
  formatRanges,
  formatService,
  intersectRanges,
  isEmptyRanges,
  type Ranges,
  rangeOf,
  rangesEqual,
  single,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import type { Box } from "./box.ts";
import { DESTINATION_PORT, ICMP_CODE, ICMP_TYPE, PROTOCOL } from "./fields.ts";

/** What is asked for, by protocol number; a protocol that is missing is not asked for. */
export type ServiceSet = ReadonlyMap<number, Ranges>;

const WITH_PORTS: ReadonlySet<number> = new Set([6, 17, 132]);
const ICMPS: ReadonlySet<number> = new Set([1, 58]);
const ALL_PORTS = rangeOf(0n, 65_535n);
const WHOLE = single(0n);
const CODES = 256n;
const BYTE = rangeOf(0n, CODES - 1n);

/** The services of a box. */
export function servicesOf({ numbers }: Pick<Box, "numbers">): ServiceSet {
  const found = new Map<number, Ranges>();
  for (const [low, high] of numbers[PROTOCOL] ?? []) {
    for (let protocol = Number(low); protocol <= Number(high); protocol++) {
      if (WITH_PORTS.has(protocol)) found.set(protocol, numbers[DESTINATION_PORT] ?? ALL_PORTS);
      else if (ICMPS.has(protocol)) found.set(protocol, messagesOf(numbers));
      else found.set(protocol, WHOLE);
    }
  }
  return found;
}

/** None of packets of the other family: to them its protocol number means nothing, and they have no type (-1). */
function messagesOf(numbers: Box["numbers"]): Ranges {
  const codes = intersectRanges(numbers[ICMP_CODE] ?? [], BYTE);
  const [all] = codes;
  const isWhole = codes.length === 1 && all?.[0] === 0n && all[1] === CODES - 1n;
  let messages: Ranges = [];
  for (const [low, high] of intersectRanges(numbers[ICMP_TYPE] ?? [], BYTE)) {
    if (isWhole) messages = unionRanges(messages, rangeOf(low * CODES, high * CODES + CODES - 1n));
    else
      for (let type = low; type <= high; type++)
        for (const [first, last] of codes)
          messages = unionRanges(messages, rangeOf(type * CODES + first, type * CODES + last));
  }
  return messages;
}

/** Everything that either asks for. */
export function unionServices(a: ServiceSet, b: ServiceSet): ServiceSet {
  const joined = new Map(a);
  for (const [protocol, asked] of b) joined.set(protocol, unionRanges(joined.get(protocol) ?? [], asked));
  return joined;
}

/** Whether both ask for the same. */
export function sameServices(a: ServiceSet, b: ServiceSet): boolean {
  return a.size === b.size && [...a].every(([protocol, asked]) => rangesEqual(asked, b.get(protocol) ?? []));
}

/** In words: `every service`, what is asked for, or what is missing, whichever is shorter. */
export function tellServices(services: ServiceSet, isSix: boolean, isFour: boolean): string {
  const possible = possibleOf(isFour, isSix);
  const missing = new Map<number, Ranges>();
  for (const [protocol, all] of possible) {
    const rest = subtractRanges(all, services.get(protocol) ?? []);
    if (!isEmptyRanges(rest)) missing.set(protocol, rest);
  }
  if (missing.size === 0) return EVERY_SERVICE;
  const [asked, left] = [itemsOf(services, possible), itemsOf(missing, possible)];
  if (asked.length === 0) return joined([...services.keys()].map((protocol) => formatService({ protocol })));
  return left.length < asked.length ? `all but ${joined(left)}` : joined(asked);
}

/** Of packets of one family the other one's ICMP is nothing that is missing. */
function possibleOf(isFour: boolean, isSix: boolean): ServiceSet {
  const all = new Map<number, Ranges>();
  for (let protocol = 0; protocol <= 255; protocol++) {
    if (WITH_PORTS.has(protocol)) all.set(protocol, ALL_PORTS);
    else if (ICMPS.has(protocol)) {
      if (protocol === 1 ? isFour : isSix) all.set(protocol, rangeOf(0n, CODES * CODES - 1n));
    } else all.set(protocol, WHOLE);
  }
  return all;
}

const MOST_ITEMS = 8;

function joined(items: readonly string[]): string {
  const shown = items.slice(0, MOST_ITEMS);
  const more = items.length - shown.length;
  return more > 0 ? `${shown.join(", ")} and ${more} more` : shown.join(", ");
}

function itemsOf(services: ServiceSet, possible: ServiceSet): readonly string[] {
  const sorted = [...services].sort(([a], [b]) => rankOf(a) - rankOf(b));
  const plain = sorted.filter(([protocol]) => !WITH_PORTS.has(protocol) && !ICMPS.has(protocol));
  const others = [...possible.keys()].filter((each) => !WITH_PORTS.has(each) && !ICMPS.has(each));
  const isEveryOther = plain.length === others.length;
  const told = isEveryOther ? sorted.filter(([protocol]) => rankOf(protocol) < OTHERS) : sorted;
  const items = told.flatMap(([protocol, asked]) => tellProtocol(protocol, asked, possible.get(protocol)));
  return isEveryOther ? [...items, "every other protocol"] : items;
}

const ORDER = [6, 17, 132, 1, 58];
const OTHERS = ORDER.length;

function rankOf(protocol: number): number {
  const place = ORDER.indexOf(protocol);
  return place < 0 ? OTHERS + protocol : place;
}

function tellProtocol(protocol: number, asked: Ranges, all: Ranges | undefined): readonly string[] {
  if (all !== undefined && rangesEqual(asked, all)) return [formatService({ protocol })];
  if (WITH_PORTS.has(protocol)) return asked.map((run) => `${formatService({ protocol })}/${formatRanges([run])}`);
  return asked.flatMap(([low, high]) => tellMessages(protocol, low, high));
}

function tellMessages(protocol: number, low: bigint, high: bigint): readonly string[] {
  const items: string[] = [];
  for (let at = low; at <= high; ) {
    const type = Number(at / CODES);
    const isWhole = at % CODES === 0n && high - at >= CODES - 1n;
    const code = Number(at % CODES);
    items.push(formatService({ protocol, icmp: isWhole ? { type } : { type, code } }));
    at += isWhole ? CODES : 1n;
  }
  return items;
}
