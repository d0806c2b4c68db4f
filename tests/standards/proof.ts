/**
 * Published rules as proofs: the exact set of packets that get from one side of a router to the other, all packets at once, and
 * whether it is the published one.
 */
import { addressKey, parseAddress, parsePrefix, prefixKeys, type Ranges, ranges } from "../../src/address/index.ts";
import type { Alternatives, AskedField, AskedPackets, FateClass, Network } from "../../src/network/index.ts";
import { boxesWithout, createProver, type Proof } from "../../src/prove/index.ts";
import { settle } from "../../src/settle/index.ts";

/** Packets in a few words: addresses or prefixes, ranges of numbers; what is left out is any. */
export type Packets = {
  readonly source?: string | readonly string[];
  readonly dest?: string | readonly string[];
  readonly protocol?: number | readonly Span[];
  readonly from?: readonly Span[];
  readonly to?: readonly Span[];
  readonly type?: readonly Span[];
  readonly code?: readonly Span[];
  readonly flags?: readonly Span[];
};

/** A number, or the first and last of several. */
export type Span = number | readonly [number, number];

const ORIGIN = { by: "default", rule: "asked", source: "the test", span: { file: 0, start: 0, end: 0 } } as const;

function keysOf(texts: string | readonly string[]): Ranges {
  return ranges(
    ...[texts].flat().map((text): readonly [bigint, bigint] => {
      const address = parseAddress(text);
      if (address !== undefined) return [addressKey(address), addressKey(address)];
      const prefix = parsePrefix(text)?.prefix;
      if (prefix === undefined) throw new Error(`neither address nor prefix: ${text}`);
      return prefixKeys(prefix);
    }),
  );
}

function numbersOf(spans: number | readonly Span[]): Ranges {
  const list = typeof spans === "number" ? [spans] : spans;
  return ranges(
    ...list.map((span) => (typeof span === "number" ? ([BigInt(span), BigInt(span)] as const) : bigs(span))),
  );
}

function bigs([low, high]: readonly [number, number]): readonly [bigint, bigint] {
  return [BigInt(low), BigInt(high)];
}

/** Packets as conditions. */
export function match({ source, dest, protocol, from, to, type, code, flags }: Packets): AskedPackets[number] {
  const fields: readonly (readonly [AskedField, Ranges | undefined])[] = [
    ["source", source === undefined ? undefined : keysOf(source)],
    ["destination", dest === undefined ? undefined : keysOf(dest)],
    ["protocol", protocol === undefined ? undefined : numbersOf(protocol)],
    ["sourcePort", from && numbersOf(from)],
    ["destinationPort", to && numbersOf(to)],
    ["icmpType", type && numbersOf(type)],
    ["icmpCode", code && numbersOf(code)],
    ["tcpFlags", flags && numbersOf(flags)],
  ];
  return fields.flatMap(([field, within]) => (within === undefined ? [] : [{ field, within, origin: ORIGIN }]));
}

/** Where packets begin and what they are, and the port that they must not, or shall, leave by. */
export type Asked = {
  /** Ports where frames enter. */
  readonly at: readonly string[];
  readonly packets: readonly Packets[];
  /** A device that begins connections of its own besides. */
  readonly begins?: string;
  /** The port whose segment is meant. */
  readonly out?: string;
  /** Else the device whose stack is meant. */
  readonly device?: string;
};

/** Classes of packets that get there. */
export function reached(network: Network, asked: Asked): readonly FateClass[] {
  return proved(network, asked).reached;
}

/** Classes of packets that do not, and need no earlier ones. */
export function stopped(network: Network, asked: Asked): readonly FateClass[] {
  return proved(network, asked).stopped.filter(({ before }) => before.length === 0);
}

function proved(network: Network, { at, packets, begins, out, device }: Asked): Proof {
  const meant = network.stacks.filter((stack) => stack.device === device);
  const proof = createProver(network, settle(network)).prove({
    entrances: at,
    senders: network.stacks
      .filter((stack) => stack.device === begins)
      .map(({ id, interfaces }) => ({ stack: id, interfaces: interfaces.map((leg) => leg.id) })),
    packets: packets.map(match),
    target: {
      addresses: [],
      interfaces: meant.flatMap(({ interfaces }) => interfaces.map(({ id }) => id)),
      stacks: meant.map(({ id }) => id),
      segments: out === undefined ? [] : [{ at: out }],
      upstreams: [],
    },
  });
  if (proof.undecided !== undefined) throw new Error(JSON.stringify(proof.undecided));
  return proof;
}

/** Packets that get there without any earlier one. */
export function open(network: Network, asked: Asked): Alternatives {
  return reached(network, asked).flatMap(({ before, packets }) => (before.length === 0 ? packets : []));
}

const MOST = 100_000;

/** How two sets differ: boxes that only the first has, and that only the second has; both 0: they are equal. */
export function difference(a: Alternatives, b: Alternatives): readonly [number, number] {
  const [more, less] = [boxesWithout(a, b, MOST), boxesWithout(b, a, MOST)];
  if (more === undefined || less === undefined) throw new Error("too many boxes");
  return [more.length, less.length];
}

/** Equal sets. */
export const EQUAL = [0, 0] as const;
