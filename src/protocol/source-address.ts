/**
 * The source address that a stack prefers in IPv6: RFC 6724 section 5, rules 1, 2, 3, 5, 6 and 8; no address here is a home
 * address or temporary.
 */
import {
  type Address,
  addressKey,
  commonPrefixLength,
  isLinkLocal,
  isMulticast,
  type Prefix,
  parsePrefix,
  prefixContains,
  prefixOf,
} from "../address/index.ts";
import type { InterfaceAddress } from "../network/index.ts";

/** An address that may be the source. */
export type SourceCandidate = {
  /** The address. */
  readonly address: InterfaceAddress;
  /** It is one of the interface that packets leave by. */
  readonly isOutgoing: boolean;
};

/**
 * The IPv6 addresses of an interface, in the order in which equals are preferred: the standard leaves a tie to the stack; the
 * kernel takes the address that the interface got last (seen on 6.18).
 */
export function sourceCandidates(
  addresses: readonly InterfaceAddress[],
  isOutgoing: boolean,
): readonly SourceCandidate[] {
  return addresses.flatMap((address) => (address.family === 6 ? [{ address, isOutgoing }] : [])).toReversed();
}

/** The address preferred for a destination, of equals the first; undefined: there is none. */
export function preferredSource(
  candidates: readonly SourceCandidate[],
  destination: Address,
): InterfaceAddress | undefined {
  const [first, ...others] = candidates;
  return first && others.reduce((a, b) => (isBetter(b, a, destination) ? b : a), first).address;
}

/**
 * Prefixes that tell apart what is preferred: to two destinations of one scope that lie in the same ones of these the same
 * address is.
 */
export function preferenceTurns(candidates: readonly SourceCandidate[]): readonly Prefix[] {
  const addresses = candidates.map(({ address }) => address);
  const itself = addresses.map((address) => prefixOf(address, 128));
  // Up to what two of them share both have as much in common with any destination; what is behind the prefix of one does not count.
  const nearer = addresses.flatMap((a) =>
    addresses.flatMap((b) =>
      [commonPrefixLength(a, b), b.prefixLength].flatMap((length) => (length < 128 ? [prefixOf(a, length + 1)] : [])),
    ),
  );
  return [...itself, ...nearer, ...LABELS.map(([prefix]) => prefix)];
}

/** Whether a destination means something on one link only, RFC 6724 section 3.1. */
export function isOfLink(destination: Address): boolean {
  return scopeOf(destination) === LINK_SCOPE;
}

/** RFC 6724 section 2.1: the default policy table, labels only, longest prefixes first. */
const LABELS: readonly (readonly [prefix: Prefix, label: number])[] = (
  [
    ["::1/128", 0],
    ["::ffff:0:0/96", 4],
    ["::/96", 3],
    ["2001::/32", 5],
    ["2002::/16", 2],
    ["3ffe::/16", 12],
    ["fec0::/10", 11],
    ["fc00::/7", 13],
    ["::/0", 1],
  ] as const
).flatMap(([text, label]) => {
  const parsed = parsePrefix(text);
  return parsed === undefined ? [] : [[parsed.prefix, label] as const];
});

function labelOf(address: Address): number {
  return LABELS.find(([prefix]) => prefixContains(prefix, address))?.[1] ?? 1;
}

const LINK_SCOPE = 2;
const GLOBAL_SCOPE = 14;

/** RFC 6724 section 3.1, with the scopes of RFC 4291 section 2.7 for multicast. */
function scopeOf(address: Address): number {
  if (isMulticast(address)) return Number((address.value >> 112n) & 0xfn);
  return isLinkLocal(address) ? LINK_SCOPE : GLOBAL_SCOPE;
}

/** Whether `a` is preferred to `b`. */
function isBetter(a: SourceCandidate, b: SourceCandidate, destination: Address): boolean {
  const same = Number(isSame(a.address, destination)) - Number(isSame(b.address, destination));
  if (same !== 0) return same > 0;
  const [scopeA, scopeB, scope] = [scopeOf(a.address), scopeOf(b.address), scopeOf(destination)];
  if (scopeA !== scopeB) return scopeA < scopeB ? scopeA >= scope : scopeB < scope;
  const preferred = Number(b.address.deprecated === true) - Number(a.address.deprecated === true);
  if (preferred !== 0) return preferred > 0;
  const outgoing = Number(a.isOutgoing) - Number(b.isOutgoing);
  if (outgoing !== 0) return outgoing > 0;
  const label = labelOf(destination);
  const labels = Number(labelOf(a.address) === label) - Number(labelOf(b.address) === label);
  if (labels !== 0) return labels > 0;
  return commonLength(a.address, destination) > commonLength(b.address, destination);
}

function isSame(a: Address, b: Address): boolean {
  return addressKey(a) === addressKey(b);
}

/** RFC 6724 section 2.2: bits in common, at most the length of the source's own prefix. */
function commonLength(source: InterfaceAddress, destination: Address): number {
  return Math.min(commonPrefixLength(source, destination), source.prefixLength);
}
