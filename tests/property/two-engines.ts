/**
 * What the tests that hold simulator and prover together share: the tiny universe, origins that can be told apart, and
 * naive readings of what the engines say, which use no code of either.
 *
 * The universe: four addresses and four ports inside real widths, in both families, with TCP, UDP, ICMP and one protocol
 * without ports. `EDGES` adds the addresses that have a meaning of their own.
 */
import { addressKey, parseAddress, rangesContain } from "../../src/address/index.ts";
import type { Origin } from "../../src/diagnose/index.ts";
import type { Alternatives, Condition, Fate, Match, NameField, NumberField, Witness } from "../../src/network/index.ts";
import { NAME_FIELDS, NUMBER_FIELDS } from "../../src/prove/fields.ts";
import type { Box } from "../../src/prove/index.ts";
import type { PacketFields } from "../../src/simulate/index.ts";

/** Four addresses of each family: two on one link, one on another, one far away. */
export const ADDRESSES: Readonly<Record<4 | 6, readonly string[]>> = {
  4: ["10.0.0.1", "10.0.0.2", "10.0.1.1", "203.0.113.9"],
  6: ["fd00::1", "fd00::2", "fd00:0:0:1::1", "2001:db8::9"],
};

/** Addresses with a meaning of their own: nobody, everybody, groups, loopback, the ends of a prefix, another host in it. */
export const EDGES: Readonly<Record<4 | 6, readonly string[]>> = {
  4: [
    "0.0.0.0",
    "0.1.2.3",
    "127.0.0.1",
    "169.254.0.5",
    "10.0.0.0",
    "10.0.0.255",
    "10.0.1.255",
    "224.0.0.1",
    "224.0.0.9",
    "240.0.0.1",
    "255.255.255.255",
    "10.0.1.7",
  ],
  6: [
    "::",
    "::1",
    "fe80::1",
    "fe80::2",
    "fe80::77",
    "ff02::1",
    "ff02::2",
    "ff02::1:ff00:1",
    "ff05::1",
    "fd00:0:0:1::7",
  ],
};

/** Ports of the universe. */
const PORTS: readonly bigint[] = [22n, 53n, 443n, 40_000n];

const SYN = 0x02n;
const SYN_ACK = 0x12n;
const ACK = 0x10n;
const RST = 0x04n;
/** TCP segments: the first, its answer, a later one, a reset. */
export const SEGMENTS: readonly bigint[] = [SYN, SYN_ACK, ACK, RST];

/** The key of an address. */
export function keyOf(text: string): bigint {
  const address = parseAddress(text);
  if (address === undefined) throw new Error(`no address: ${text}`);
  return addressKey(address);
}

/** Protocols of the universe; "other" has no ports. */
export type Protocol = "udp" | "tcp" | "sctp" | "icmp" | "other";

/** How much of the universe. */
export type Extent = {
  readonly sources: readonly string[];
  readonly destinations: readonly string[];
  /** Default: all four. */
  readonly ports?: readonly bigint[];
  /** Default: 40000 and the first of `ports`. */
  readonly sourcePorts?: readonly bigint[];
  /** Default: the first segment only. */
  readonly segments?: readonly bigint[];
  /** Default: 64. */
  readonly hopLimits?: readonly bigint[];
  /** Default: an echo request, its answer, and two errors that quote nothing. */
  readonly icmpTypes?: readonly bigint[] | undefined;
  /** Default: 0. */
  readonly icmpCodes?: readonly bigint[];
  /** Default: 17, UDP; 6, TCP; 132, SCTP; ICMP; and 47, which has no ports. */
  readonly protocols?: readonly Protocol[];
};

type Numbers = { readonly [Field in NumberField]?: bigint };

/** A packet with these values. */
export function packetWith(numbers: Numbers, names: { readonly [Field in NameField]?: string } = {}): Witness {
  // `Object.entries` forgets the keys, which are those of the types above.
  return {
    numbers: Object.entries(numbers) as (readonly [NumberField, bigint])[],
    names: Object.entries(names) as (readonly [NameField, string])[],
  };
}

/** Echo request and answer, and errors that quote nothing. */
const ICMP_TYPES: Readonly<Record<4 | 6, readonly bigint[]>> = { 4: [8n, 0n, 3n, 11n], 6: [128n, 129n, 1n, 3n] };

/** Every combination; sources and destinations of different families are left out. */
export function packetsOf(extent: Extent): readonly Witness[] {
  const { ports = PORTS, segments = [SYN], hopLimits = [64n], icmpCodes = [0n], icmpTypes } = extent;
  const { sourcePorts = [40_000n, ...ports.slice(0, 1)], protocols = ["udp", "tcp", "sctp", "icmp", "other"] } = extent;
  const frame = { vlan: 0n, sourceHardware: 0x0200000000fen, destinationHardware: 2n };
  return extent.sources.flatMap((from) =>
    extent.destinations.flatMap((to) => {
      const [source, destination] = [keyOf(from), keyOf(to)];
      const family = source >> 128n === 1n ? 6 : 4;
      if ((family === 6) !== (destination >> 128n === 1n)) return [];
      const length = family === 4 ? 28n : 48n;
      const etherType = family === 4 ? 0x0800n : 0x86ddn;
      return hopLimits.flatMap((hopLimit) => {
        const base = { ...frame, family: BigInt(family), source, destination, hopLimit, length, etherType };
        return protocols.flatMap((protocol) =>
          bodies(protocol, family, { ports, sourcePorts, segments, icmpCodes, icmpTypes }).map((body) =>
            packetWith({ ...base, ...body }),
          ),
        );
      });
    }),
  );
}

function bodies(
  protocol: Protocol,
  family: 4 | 6,
  {
    ports,
    sourcePorts,
    segments,
    icmpCodes,
    icmpTypes,
  }: Required<Pick<Extent, "ports" | "sourcePorts" | "segments" | "icmpCodes">> & Pick<Extent, "icmpTypes">,
): readonly Numbers[] {
  const ended = (more: Numbers) =>
    sourcePorts.flatMap((sourcePort) => ports.map((destinationPort) => ({ ...more, sourcePort, destinationPort })));
  switch (protocol) {
    case "udp":
      return ended({ protocol: 17n });
    case "tcp":
      return segments.flatMap((tcpFlags) => ended({ protocol: 6n, tcpFlags }));
    case "icmp":
      return (icmpTypes ?? ICMP_TYPES[family]).flatMap((icmpType) =>
        icmpCodes.map((icmpCode) => ({ protocol: family === 4 ? 1n : 58n, icmpType, icmpCode })),
      );
    case "sctp":
      return ended({ protocol: 132n });
    case "other":
      return [{ protocol: 47n }];
  }
}

/** The fields of a packet, as the simulator takes them. */
export function fieldsOf({ numbers, names }: Witness): PacketFields {
  return { ...Object.fromEntries(numbers), ...Object.fromEntries(names.map(([field, name]) => [field, [name]])) };
}

/** The value of a field. */
export function numberOf({ numbers }: Witness, field: NumberField): bigint | undefined {
  return numbers.find(([name]) => name === field)?.[1];
}

// -- readings ----------------------------------------------------------------------------------------------------------

/** Reads alternatives as the description says it. */
export function fitsOne(when: Alternatives, packet: Witness): boolean {
  const numbers = new Map<string, bigint>(packet.numbers);
  const names = new Map<string, string>(packet.names);
  return when.some((match) => holdsAll(match, numbers, names));
}

function holdsAll(match: Match, numbers: ReadonlyMap<string, bigint>, names: ReadonlyMap<string, string>): boolean {
  return match.every((condition) => holdsOne(condition, numbers, names));
}

/** Fields that the frame decides are left open: a proof is about packets, and says of frames only which it takes. */
function holdsOne(
  condition: Condition,
  numbers: ReadonlyMap<string, bigint>,
  names: ReadonlyMap<string, string>,
): boolean {
  if ("oneOf" in condition) return condition.oneOf.includes(names.get(condition.field) ?? "");
  const value = numbers.get(condition.field);
  return value !== undefined && rangesContain(condition.within, value);
}

/** Whether a box has a packet: a field that the packet lacks must be absent there. */
export function boxHas({ numbers, names }: Box, packet: Witness): boolean {
  const values = new Map<string, bigint>(packet.numbers);
  const words = new Map<string, string>(packet.names);
  return (
    NUMBER_FIELDS.every((field, index) => rangesContain(numbers[index] ?? [], values.get(field) ?? -1n)) &&
    NAME_FIELDS.every((field, index) => (names[index] ?? []).includes(words.get(field) ?? ""))
  );
}

/** A packet in one line. */
export function tell({ numbers, names, tags }: Witness): string {
  const shown = numbers.filter(
    ([field]) => !["family", "etherType", "length", "vlan", "sourceHardware", "destinationHardware"].includes(field),
  );
  const told = shown.map(
    ([field, value]) => `${field}=${field === "source" || field === "destination" ? value.toString(16) : value}`,
  );
  return [
    ...told,
    ...names.map(([field, name]) => `${field}=${name}`),
    ...(tags === undefined ? [] : [`tags=${tags.join(".")}`]),
  ].join(" ");
}

/** A fate in one word: the end, the place, the reason, the answer, the line. */
export function fateWord(fate: Fate): string {
  const { start, file } = fate.origin.span;
  const reason = "reason" in fate ? ` ${fate.reason}` : "";
  const answer = fate.end === "refused" && fate.icmp !== undefined ? ` ${fate.icmp.type}/${fate.icmp.code}` : "";
  return `${fate.end}${reason}${answer} at ${fate.at} by ${file}:${start}`;
}

// -- origins and numbers -----------------------------------------------------------------------------------------------

/** Gives out origins, each with a span of its own. */
export function origins(): () => Origin {
  let next = 0;
  return () => {
    next += 1;
    return { by: "written", span: { file: 0, start: next, end: next + 1 } };
  };
}

/** A stream of numbers, the same for each seed (mulberry32, public domain, from memory). */
export function stream(seed: number): (below: number) => number {
  let state = seed >>> 0;
  return (below) => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return Math.floor((((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32) * below);
  };
}

/**
 * How much more than in a normal run is tried: `DRYRACK_TWO_ENGINES=20 npx vitest run tests/property`. A whole number from
 * 1, the default.
 */
export const SCALE: number = Math.max(1, Math.floor(Number(process.env.DRYRACK_TWO_ENGINES ?? 1)) || 1);

/** How often each thing was seen. */
export class Tally {
  readonly #counts = new Map<string, number>();

  /** Counts one. */
  count(name: string): void {
    this.#counts.set(name, (this.#counts.get(name) ?? 0) + 1);
  }

  /** All counts added. */
  get total(): number {
    return [...this.#counts.values()].reduce((sum, count) => sum + count, 0);
  }

  /** How many of a name. */
  of(name: string): number {
    return this.#counts.get(name) ?? 0;
  }

  /** The part in a hundred of each name, the rarest first. */
  shares(): readonly (readonly [name: string, percent: number])[] {
    const { total } = this;
    return [...this.#counts].map(([name, count]) => [name, (100 * count) / total] as const).sort((a, b) => a[1] - b[1]);
  }

  /** All shares in one line. */
  told(): string {
    return this.shares()
      .toReversed()
      .map(([name, percent]) => `${name} ${percent.toFixed(1)} %`)
      .join(", ");
  }
}
