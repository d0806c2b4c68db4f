/**
 * The source address that a stack gives a packet of its own. IPv4: of the egress interface, facing the next hop (kernel
 * fact 21 says the same of masquerade). IPv6: RFC 6724 section 5, rules 1, 2, 5, 6 and 8 over its own addresses; no
 * address here is deprecated, a home address or temporary.
 */
import {
  type Address,
  addressKey,
  commonPrefixLength,
  isLinkLocal,
  isLoopback,
  isMulticast,
  type Prefix,
  parsePrefix,
  prefixContains,
  prefixOf,
} from "../address/index.ts";
import type { InterfaceAddress } from "../network/index.ts";
import type { PickBook } from "./picks.ts";
import type { InterfacePlan, StackPlan } from "./plan.ts";
import { wayTo } from "./route-choice.ts";

/** From where a stack speaks to itself by an address that means that. */
const LOOPBACK: Readonly<Record<4 | 6, Address>> = {
  4: { family: 4, value: 0x7f000001n },
  6: { family: 6, value: 1n },
};

/** The source that a stack selects for a destination; undefined: it has none. `bound`: the egress interface. */
export function selectSource(
  stack: StackPlan,
  destination: Address,
  picks: PickBook,
  bound?: InterfacePlan,
): Address | undefined {
  if (isLoopback(destination) && bound === undefined) return LOOPBACK[destination.family];
  const way = wayTo(stack, destination, picks, bound);
  switch (way.to) {
    case "own":
      return ownSource(stack, destination);
    case "group":
      return way.egress && addressFacing(stack, way.egress, destination, destination);
    case "hop":
      return addressFacing(stack, way.egress, way.nextHop ?? destination, destination);
    case "nowhere":
      return anyAddress(stack, destination.family);
  }
}

/** To itself a stack speaks from the address it speaks to; to an anycast one from the best of the same interface. */
function ownSource(stack: StackPlan, destination: Address): Address | undefined {
  const key = addressKey(destination);
  const [leg] = stack.own.get(key) ?? [];
  if (leg === undefined) return anyAddress(stack, destination.family);
  return stack.anycast.has(key) ? bestSource(stack, leg, destination) : destination;
}

/** A program without a route still has an address to fail from, and an upstream one to speak to itself. */
function anyAddress(stack: StackPlan, family: 4 | 6): Address | undefined {
  return firstOf(stack.interfaces, family);
}

function firstOf(legs: readonly InterfacePlan[], family: 4 | 6): Address | undefined {
  for (const leg of legs) for (const address of leg.addresses) if (address.family === family) return plain(address);
  return undefined;
}

function plain({ family, value }: InterfaceAddress): Address {
  return { family, value };
}

/** The address of an interface that faces a next hop. */
export function addressFacing(
  stack: StackPlan,
  egress: InterfacePlan,
  nextHop: Address,
  destination: Address = nextHop,
): Address | undefined {
  if (destination.family === 6) return bestSource(stack, egress, destination);
  const facing = egress.addresses.find(
    (address) => address.family === 4 && prefixContains(prefixOf(address, address.prefixLength), nextHop),
  );
  if (facing !== undefined) return plain(facing);
  return firstOf([egress], 4) ?? firstOf(stack.interfaces, 4);
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

/** RFC 6724 section 3.1, with the scopes of RFC 4291 section 2.7 for multicast. */
function scopeOf(address: Address): number {
  if (isMulticast(address)) return Number((address.value >> 112n) & 0xfn);
  return isLinkLocal(address) ? 2 : 14;
}

type Candidate = { readonly address: InterfaceAddress; readonly leg: InterfacePlan };

function bestSource(stack: StackPlan, egress: InterfacePlan, destination: Address): Address | undefined {
  const onlyHere = scopeOf(destination) === 2;
  const legs = onlyHere ? [egress] : [egress, ...stack.interfaces.filter((leg) => leg !== egress)];
  // The standard leaves a tie to the stack; the kernel takes the address that the interface got last (seen on 6.18).
  const candidates = legs.flatMap((leg) =>
    leg.addresses
      .filter((address) => address.family === 6 && (leg === egress || !isLinkLocal(address)))
      .map((address): Candidate => ({ address, leg }))
      .toReversed(),
  );
  const [first, ...others] = candidates;
  if (first === undefined) return undefined;
  const best = others.reduce((a, b) => (isBetter(b, a, egress, destination) ? b : a), first);
  return plain(best.address);
}

/** Whether `a` is preferred to `b`; of equals the earlier stays. */
function isBetter(a: Candidate, b: Candidate, egress: InterfacePlan, destination: Address): boolean {
  const same = Number(isSame(a.address, destination)) - Number(isSame(b.address, destination));
  if (same !== 0) return same > 0;
  const [scopeA, scopeB, scope] = [scopeOf(a.address), scopeOf(b.address), scopeOf(destination)];
  if (scopeA !== scopeB) return scopeA < scopeB ? scopeA >= scope : scopeB < scope;
  const outgoing = Number(a.leg === egress) - Number(b.leg === egress);
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
