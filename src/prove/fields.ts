/**
 * The fields of a packet in the order in which boxes keep them, and the universes that all packets lie in: one for
 * each family and kind of protocol, since TCP has flags that ICMP lacks. A field that a kind of packet does not have
 * holds the one value `ABSENT`, which no condition names, so that a condition on it fails (`network/match.ts`).
 *
 * Whole packets only: a fragment goes the way of the packet it is part of.
 */
import { FAMILY_KEYS, type Ranges, rangeOf, ranges, single } from "../address/index.ts";
import type { NameField, NumberField } from "../network/index.ts";

/** Number fields by their place in `Box.numbers`. */
export const NUMBER_FIELDS: readonly NumberField[] = [
  "family",
  "source",
  "destination",
  "protocol",
  "sourcePort",
  "destinationPort",
  "icmpType",
  "icmpCode",
  "tcpFlags",
  "hopLimit",
  "length",
  "etherType",
  "vlan",
  "sourceHardware",
  "destinationHardware",
];

/** Name fields by their place in `Box.names`. */
export const NAME_FIELDS: readonly NameField[] = ["ingress", "egress", "state", "translated"];

/** Place of the family. */
export const FAMILY = 0;
/** Place of the source. */
export const SOURCE = 1;
/** Place of the destination. */
export const DESTINATION = 2;
/** Place of the protocol number. */
export const PROTOCOL = 3;
/** Place of the source port. */
export const SOURCE_PORT = 4;
/** Place of the destination port. */
export const DESTINATION_PORT = 5;
/** Place of the ICMP type. */
export const ICMP_TYPE = 6;
/** Place of the ICMP code. */
export const ICMP_CODE = 7;
/** Place of the TCP flags. */
export const TCP_FLAGS = 8;
/** Place of the hop limit. */
export const HOP_LIMIT = 9;
/** Place of the length. */
export const LENGTH = 10;
/** Place of the outer tag. */
export const VLAN = 12;
/** Place of the source hardware address. */
export const SOURCE_HARDWARE = 13;
/** Place of the destination hardware address. */
export const DESTINATION_HARDWARE = 14;

/** Place of the ingress interface. */
export const INGRESS = 0;
/** Place of the egress interface. */
export const EGRESS = 1;
/** Place of the state of the connection. */
export const STATE = 2;
/** Place of the rewritten ends. */
export const TRANSLATED = 3;

/** A name field that holds nothing: no interface yet, not tracked. */
export const NO_NAME = "";

/** The value of a field that a packet does not have. */
const ABSENT: Ranges = single(-1n);

const TCP = 6n;
const UDP = 17n;
const SCTP = 132n;
const ICMP = { 4: 1n, 6: 58n } as const;
const ETHER_TYPE = { 4: 0x0800n, 6: 0x86ddn } as const;

const BYTE = rangeOf(0n, 255n);
const PORT = rangeOf(0n, 65_535n);
/** Flags with a meaning: FIN to CWR (RFC 9293 section 3.1, from memory). */
const FLAGS = BYTE;
/** An untagged frame, or any tag (see `network/match.ts`). */
const TAGS = ranges([0n, 0n], [4096n, 8190n]);
const HARDWARE = rangeOf(0n, 0xffffffffffffn);

type Shape = { readonly ports: boolean; readonly icmp: boolean; readonly flags: boolean; readonly protocols: Ranges };

function shapesOf(family: 4 | 6): readonly Shape[] {
  const icmp = ICMP[family];
  const others = ranges(...gapsBetween([TCP, UDP, SCTP, icmp].sort((a, b) => (a < b ? -1 : 1))));
  return [
    { ports: true, icmp: false, flags: true, protocols: single(TCP) },
    { ports: true, icmp: false, flags: false, protocols: ranges([UDP, UDP], [SCTP, SCTP]) },
    { ports: false, icmp: true, flags: false, protocols: single(icmp) },
    { ports: false, icmp: false, flags: false, protocols: others },
  ];
}

/** Bytes around ascending ones. */
function gapsBetween(holes: readonly bigint[]): (readonly [bigint, bigint])[] {
  const starts = [0n, ...holes.map((hole) => hole + 1n)];
  return starts.map((start, index) => [start, (holes[index] ?? 256n) - 1n] as const);
}

/** What packets of a family have in common; the same records in all its universes, which tell by them what is open. */
function commonOf(family: 4 | 6): { readonly [field in "family" | "addresses" | "length" | "etherType"]: Ranges } {
  return {
    family: single(BigInt(family)),
    addresses: [FAMILY_KEYS[family]],
    length: rangeOf(family === 4 ? 20n : 40n, 65_535n),
    etherType: single(ETHER_TYPE[family]),
  };
}

function universe(common: ReturnType<typeof commonOf>, shape: Shape): readonly Ranges[] {
  return [
    common.family,
    common.addresses,
    common.addresses,
    shape.protocols,
    shape.ports ? PORT : ABSENT,
    shape.ports ? PORT : ABSENT,
    shape.icmp ? BYTE : ABSENT,
    shape.icmp ? BYTE : ABSENT,
    shape.flags ? FLAGS : ABSENT,
    BYTE,
    common.length,
    common.etherType,
    TAGS,
    HARDWARE,
    HARDWARE,
  ];
}

/** Number fields of all packets: disjoint products that cover everything, IPv4 first; TCP, UDP and SCTP, ICMP, the rest. */
export const UNIVERSES: readonly (readonly Ranges[])[] = ([4, 6] as const).flatMap((family) => {
  const common = commonOf(family);
  return shapesOf(family).map((shape) => universe(common, shape));
});

/** The universe that a product lies in, told by family and protocol. */
export function universeOf(numbers: readonly Ranges[]): readonly Ranges[] {
  const family = numbers[FAMILY]?.[0]?.[0];
  const protocol = numbers[PROTOCOL]?.[0]?.[0];
  const found = UNIVERSES.find(
    (each) =>
      each[FAMILY]?.[0]?.[0] === family &&
      protocol !== undefined &&
      each[PROTOCOL]?.some(([low, high]) => low <= protocol && protocol <= high),
  );
  if (found === undefined) throw new Error(`no packets of family ${family} and protocol ${protocol}`);
  return found;
}
