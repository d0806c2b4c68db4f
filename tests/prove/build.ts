/**
 * What tests of the prover share: questions about sketched networks in few words, answers in few words, and the packets
 * of a tiny universe, for oracles that ask about each of them.
 */
import { addressKey, parseAddress, parsePrefix, prefixKeys, type Ranges, ranges } from "../../src/address/index.ts";
import {
  askedOf,
  type FateClass,
  type NameField,
  type Network,
  type NumberField,
  type SegmentPoint,
  type Witness,
} from "../../src/network/index.ts";
import { createProver, type Proof, type Question } from "../../src/prove/index.ts";
import { settle } from "../../src/settle/index.ts";
import { Sketch, type When } from "../simulate/build.ts";

export { Sketch };

/** A question in words. */
export type Asked = {
  /** Attachments, or stacks that send themselves. */
  readonly from: string | readonly string[];
  /** Addresses or prefixes that count. */
  readonly to?: string | readonly string[];
  /** Interfaces that count. */
  readonly legs?: readonly string[];
  /** Stacks that count. */
  readonly stacks?: readonly string[];
  /** Segments that count: "switch/bridge 10", "edge:b". */
  readonly segments?: readonly string[];
  readonly upstreams?: readonly string[];
  /** Which packets. Default: all. */
  readonly when?: When;
  readonly limit?: number;
};

const list = (words: string | readonly string[] | undefined): readonly string[] =>
  words === undefined ? [] : typeof words === "string" ? [words] : words;

/** Keys of addresses and prefixes. */
export function keysOf(texts: string | readonly string[] | undefined): Ranges {
  return ranges(
    ...list(texts).map((text): readonly [bigint, bigint] => {
      const address = parseAddress(text);
      if (address !== undefined) return [addressKey(address), addressKey(address)];
      const prefix = parsePrefix(text)?.prefix;
      if (prefix === undefined) throw new Error(`neither address nor prefix: ${text}`);
      return prefixKeys(prefix);
    }),
  );
}

function segmentOf(text: string): SegmentPoint {
  const [at = "", vlan] = text.split(" ");
  return { at, ...(vlan === undefined ? {} : { vlan: Number(vlan) }) };
}

/** The question that words ask of a network. */
export function questionOf(sketch: Sketch, network: Network, asked: Asked): Question {
  const stacks = new Map(network.stacks.map((stack) => [stack.id, stack]));
  const from = list(asked.from);
  return {
    entrances: from.filter((id) => !stacks.has(id)),
    senders: from.flatMap((id) => {
      const stack = stacks.get(id);
      return stack === undefined ? [] : [{ stack: id, interfaces: stack.interfaces.map((leg) => leg.id) }];
    }),
    packets: [askedOf(sketch.conditions(asked.when ?? {}, sketch.origin("asked")))],
    target: {
      addresses: keysOf(asked.to),
      interfaces: asked.legs ?? [],
      stacks: asked.stacks ?? [],
      segments: (asked.segments ?? []).map(segmentOf),
      upstreams: asked.upstreams ?? [],
    },
    ...(asked.limit === undefined ? {} : { limitSteps: asked.limit }),
  };
}

/** Asks a sketched network. */
export function ask(sketch: Sketch, asked: Asked): Proof {
  const network = sketch.network();
  return createProver(network, settle(network)).prove(questionOf(sketch, network, asked));
}

/** A class in words: "end at place: what the deciding line says". */
export function told(sketch: Sketch, { fate }: FateClass): string {
  const why = "reason" in fate ? ` ${fate.reason}` : "";
  return `${fate.end}${why} at ${fate.at}: ${sketch.says(fate.origin)}`;
}

/** A number of the witness of a class. */
export function numberIn(found: Pick<FateClass, "witness"> | undefined, field: NumberField): bigint | undefined {
  return found?.witness.numbers.find(([name]) => name === field)?.[1];
}

/** One packet with every field stated. */
export function packet(
  numbers: { readonly [field in NumberField]?: bigint },
  names: { readonly [field in NameField]?: string } = {},
): Witness {
  const pairs = Object.entries(numbers) as (readonly [NumberField, bigint])[];
  const words = Object.entries(names) as (readonly [NameField, string])[];
  return { numbers: pairs, names: words };
}

const address = (text: string): bigint => keysOf(text)[0]?.[0] ?? -1n;

/** Every combination of some fields, inside their real widths: TCP, UDP and ICMP among four addresses and four ports. */
export function tinyUniverse(addresses: readonly string[], ports: readonly bigint[]): readonly Witness[] {
  const ends = addresses.flatMap((a) => addresses.map((b) => [address(a), address(b)] as const));
  const frame = { hopLimit: 64n, length: 60n, vlan: 0n, sourceHardware: 1n, destinationHardware: 2n };
  return ends.flatMap(([source, destination]) => {
    const family = source >= 1n << 128n ? 6n : 4n;
    if ((family === 6n) !== destination >= 1n << 128n) return [];
    const base = { ...frame, family, source, destination, etherType: family === 4n ? 0x0800n : 0x86ddn };
    const icmp = { protocol: family === 4n ? 1n : 58n, icmpCode: 0n };
    return [
      ...(family === 4n ? [0n, 3n, 8n] : [1n, 128n, 129n]).map((icmpType) => packet({ ...base, ...icmp, icmpType })),
      ...ports.flatMap((sourcePort) =>
        ports.flatMap((destinationPort) => [
          packet({ ...base, protocol: 17n, sourcePort, destinationPort }),
          ...[0x02n, 0x10n, 0x12n, 0x04n].map((tcpFlags) =>
            packet({ ...base, protocol: 6n, sourcePort, destinationPort, tcpFlags }),
          ),
        ]),
      ),
      packet({ ...base, protocol: 47n }),
    ];
  });
}

/** The steps of a class's path: what happened, and where. */
export function pathsOf(found: FateClass | undefined): readonly string[] {
  return (found?.path ?? []).map(({ did, at }) => `${did} ${at}`);
}

/** The classes that reach without any earlier packet. */
export function direct({ reached }: Proof): readonly FateClass[] {
  return reached.filter(({ before }) => before.length === 0);
}
