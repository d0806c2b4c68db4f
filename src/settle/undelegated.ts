/**
 * Prefixes that were to be delegated and did not come: whoever lacks one has no address of it, nobody has a route to it, and nothing is
 * kept back of it (RFC 8415 section 6.3).
 */
import { prefixContains } from "../address/index.ts";
import type { Network, Settled, SettledStack, Stack, Undelegated } from "../network/index.ts";
import { withAnycast } from "./anycast.ts";

/** The site without these prefixes, before leases and advertisements are put in. */
export function withoutDelegated(network: Network, settled: Settled, undelegated: readonly Undelegated[]): Settled {
  if (undelegated.length === 0) return settled;
  const stacks = settled.stacks.map((at, index) => {
    const stack = network.stacks[index];
    return stack === undefined ? at : stackWithout(stack, at, undelegated);
  });
  return { ...settled, undelegated, stacks };
}

/** The prefix that did not come of which this one is; undefined: it is of none. */
export function lackOf(
  undelegated: readonly Undelegated[],
  { value, length }: { readonly value: bigint; readonly length: number },
): Undelegated | undefined {
  return undelegated.find((block) => {
    const { value: first, length: bits } = block;
    return length >= bits && prefixContains({ family: 6, value: first, length: bits }, { family: 6, value });
  });
}

function stackWithout(stack: Stack, at: SettledStack, undelegated: readonly Undelegated[]): SettledStack {
  const isLost = (family: 4 | 6, value: bigint, length: number): boolean =>
    family === 6 && lackOf(undelegated, { value, length }) !== undefined;
  const routes = at.routes.filter(({ family, prefix, length }) => !isLost(family, prefix, length));
  const interfaces = at.interfaces.map((leg) => {
    const addresses = leg.addresses.filter(({ family, value }) => !isLost(family, value, 128));
    return addresses.length === leg.addresses.length ? leg : { ...leg, addresses };
  });
  const isSame = routes.length === at.routes.length && interfaces.every((leg, index) => leg === at.interfaces[index]);
  return isSame ? at : { ...at, routes, interfaces: withAnycast(stack, interfaces) };
}
