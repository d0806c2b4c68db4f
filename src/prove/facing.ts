/**
 * The address that faces a next hop: of several IPv4 addresses of an interface the first whose prefix holds it, else the first of
 * all (kernel fact 21). Translation takes it for the address of the interface, and ARP asks from it.
 */
import {
  addressKey,
  intersectRanges,
  prefixKeys,
  prefixOf,
  type Ranges,
  ranges,
  subtractRanges,
} from "../address/index.ts";
import type { InterfaceAddress } from "../network/index.ts";
import type { Leg } from "./atlas.ts";

/** Next hops that are faced by one address. */
export type Faced = {
  /** The next hops, as keys. */
  readonly hops: Ranges;
  /** The address; absent: there is none at all. */
  readonly by?: InterfaceAddress;
};

/** Next hops by the one of some IPv4 addresses that faces them; those that are faced by one are together. */
export function facedBy(own: readonly InterfaceAddress[], hops: Ranges): readonly Faced[] {
  const [first, ...others] = own;
  if (first === undefined || others.length === 0) return [{ hops, ...(first === undefined ? {} : { by: first }) }];
  const faced: Faced[] = [];
  let left = hops;
  for (const by of own) {
    const near = intersectRanges(left, ranges(prefixKeys(prefixOf(by, by.prefixLength))));
    if (near.length === 0) continue;
    faced.push({ hops: near, by });
    left = subtractRanges(left, near);
  }
  return left.length === 0 ? faced : [...faced, { hops: left, by: first }];
}

/** IPv4 addresses that an interface asks from: its own ones, of one without any those of its stack. */
export function askingAddresses({ settled, node }: Leg): readonly InterfaceAddress[] {
  const own = settled.addresses.filter(({ family }) => family === 4);
  if (own.length > 0) return own;
  return node.legs
    .flatMap((leg) => leg.settled.addresses)
    .filter(({ family }) => family === 4)
    .slice(0, 1);
}

/** Those of some next hops that an interface asks for from this address. */
export function askedFrom(leg: Leg, from: bigint, hops: Ranges): Ranges {
  const faced = facedBy(askingAddresses(leg), hops).filter(({ by }) => by !== undefined && addressKey(by) === from);
  return ranges(...faced.flatMap((each) => each.hops));
}
