/**
 * What an address is for: the special-purpose blocks of RFC 6890 (tables 1 to 16 for IPv4, 17 to 29 for IPv6), multicast,
 * link-local and unspecified addresses. The most specific block that holds an address describes it.
 */
import type { Address } from "./address.ts";
import { addressKey, FAMILY_KEYS, prefixKeys } from "./keys.ts";
import { type Prefix, parsePrefix, prefixContains } from "./prefix.ts";
import { type Ranges, ranges, rangesContain, subtractRanges, unionRanges } from "./ranges.ts";

/** One block of RFC 6890. */
export type SpecialPurpose = {
  /** The block. */
  readonly prefix: Prefix;
  /** Its name in the registry. */
  readonly name: string;
  /** Whether it may be the source of a packet. */
  readonly source: boolean;
  /** Whether it may be the destination of a packet. */
  readonly destination: boolean;
  /** Whether a router may forward a packet to it between interfaces. */
  readonly forwardable: boolean;
  /** Whether it may be forwarded beyond one administrative domain; "N/A" (2002::/16) counts as false. */
  readonly global: boolean;
};

/** Block, name, and the flags source, destination, forwardable, global as T or F. */
const TABLE: readonly (readonly [block: string, name: string, flags: string])[] = [
  ["0.0.0.0/8", "This host on this network", "TFFF"],
  ["10.0.0.0/8", "Private-Use", "TTTF"],
  ["100.64.0.0/10", "Shared Address Space", "TTTF"],
  ["127.0.0.0/8", "Loopback", "FFFF"],
  ["169.254.0.0/16", "Link Local", "TTFF"],
  ["172.16.0.0/12", "Private-Use", "TTTF"],
  ["192.0.0.0/24", "IETF Protocol Assignments", "FFFF"],
  ["192.0.0.0/29", "DS-Lite", "TTTF"],
  ["192.0.2.0/24", "Documentation (TEST-NET-1)", "FFFF"],
  ["192.88.99.0/24", "6to4 Relay Anycast", "TTTT"],
  ["192.168.0.0/16", "Private-Use", "TTTF"],
  ["198.18.0.0/15", "Benchmarking", "TTTF"],
  ["198.51.100.0/24", "Documentation (TEST-NET-2)", "FFFF"],
  ["203.0.113.0/24", "Documentation (TEST-NET-3)", "FFFF"],
  ["240.0.0.0/4", "Reserved", "FFFF"],
  ["255.255.255.255/32", "Limited Broadcast", "FTFF"],
  ["::1/128", "Loopback Address", "FFFF"],
  ["::/128", "Unspecified Address", "TFFF"],
  ["64:ff9b::/96", "IPv4-IPv6 Translat.", "TTTT"],
  ["::ffff:0:0/96", "IPv4-mapped Address", "FFFF"],
  ["100::/64", "Discard-Only Address Block", "TTTF"],
  ["2001::/23", "IETF Protocol Assignments", "FFFF"],
  ["2001::/32", "TEREDO", "TTTF"],
  ["2001:2::/48", "Benchmarking", "TTTF"],
  ["2001:db8::/32", "Documentation", "FFFF"],
  ["2001:10::/28", "ORCHID", "FFFF"],
  ["2002::/16", "6to4", "TTTF"],
  ["fc00::/7", "Unique-Local", "TTTF"],
  ["fe80::/10", "Linked-Scoped Unicast", "TTFF"],
];

/** A prefix that stands in the source. Throws when it is mistyped. */
export function knownPrefix(text: string): Prefix {
  const parsed = parsePrefix(text);
  if (parsed === undefined) throw new Error(`${text} is no prefix`);
  return parsed.prefix;
}

/** All blocks, the longest prefixes first, so that the first that holds an address is the most specific. */
export const SPECIAL_PURPOSE_BLOCKS: readonly SpecialPurpose[] = TABLE.map(([text, name, flags]) => ({
  prefix: knownPrefix(text),
  name,
  source: flags[0] === "T",
  destination: flags[1] === "T",
  forwardable: flags[2] === "T",
  global: flags[3] === "T",
})).sort((a, b) => b.prefix.length - a.prefix.length);

/** The most specific block of RFC 6890 that holds the address; undefined for addresses of no special purpose. */
export function specialPurpose(address: Address): SpecialPurpose | undefined {
  return SPECIAL_PURPOSE_BLOCKS.find(({ prefix }) => prefixContains(prefix, address));
}

const MULTICAST4 = knownPrefix("224.0.0.0/4"); // RFC 1112 section 4, from memory
const MULTICAST6 = knownPrefix("ff00::/8"); // RFC 4291 section 2.7
const LINK_LOCAL4 = knownPrefix("169.254.0.0/16"); // RFC 3927, by RFC 6890 table 5
const LINK_LOCAL6 = knownPrefix("fe80::/10"); // RFC 4291 section 2.5.6

/** Whether the address names a group: 224.0.0.0/4 or ff00::/8. */
export function isMulticast(address: Address): boolean {
  return prefixContains(MULTICAST4, address) || prefixContains(MULTICAST6, address);
}

/** Whether an address means its own host only: 127.0.0.0/8, ::1 (RFC 1122 section 3.2.1.3 g, RFC 4291 section 2.5.3). */
export function isLoopback({ family, value }: Address): boolean {
  return family === 4 ? value >> 24n === 127n : value === 1n;
}

/** Whether the address means something on its own link only: 169.254.0.0/16 or fe80::/10. */
export function isLinkLocal(address: Address): boolean {
  return prefixContains(LINK_LOCAL4, address) || prefixContains(LINK_LOCAL6, address);
}

/** Whether it is 0.0.0.0 or ::, the address of who has none yet. */
export function isUnspecified(address: Address): boolean {
  return address.value === 0n;
}

/** Blocks for documentation (RFC 5737, RFC 3849) stand for real addresses in plans, so they count as public. */
function countsAsPublic(entry: SpecialPurpose): boolean {
  return entry.global || entry.name.startsWith("Documentation");
}

function publicKeys(): Ranges {
  const every = subtractRanges(
    ranges(FAMILY_KEYS[4], FAMILY_KEYS[6]),
    ranges(prefixKeys(MULTICAST4), prefixKeys(MULTICAST6)),
  );
  // From the widest block to the most specific, each overrules what holds it.
  return [...SPECIAL_PURPOSE_BLOCKS].reverse().reduce<Ranges>((set, entry) => {
    const keys: Ranges = [prefixKeys(entry.prefix)];
    return countsAsPublic(entry) ? unionRanges(set, keys) : subtractRanges(set, keys);
  }, every);
}

/**
 * Keys of all public addresses: everything but multicast and the blocks of RFC 6890 that are not global. The blocks for
 * documentation count as public, since plans use them where real ones would stand.
 */
export const PUBLIC_KEYS: Ranges = publicKeys();

/** Whether the address is in `PUBLIC_KEYS`. */
export function isPublic(address: Address): boolean {
  return rangesContain(PUBLIC_KEYS, addressKey(address));
}
