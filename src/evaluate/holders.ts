/**
 * Who has which addresses in a site at rest: by interface, and in the order of addresses, so that a question for a few of
 * them does not go through a thousand stations.
 */
import { addressKey, type Ranges } from "../address/index.ts";
import type { Id, Settled, SettledStack } from "../network/index.ts";

/** An interface with the addresses it has now. */
export type Holder = {
  /** Id of its stack. */
  readonly stack: Id;
  /** Keys of its addresses. */
  readonly keys: ReadonlySet<bigint>;
};

/** The addresses of a site at rest. */
export type Holders = {
  /** By interface id. */
  readonly legs: ReadonlyMap<Id, Holder>;
  /** Stacks by id. */
  readonly stacks: ReadonlyMap<Id, SettledStack>;
  /** Every address with its stack, by key. */
  readonly sorted: readonly (readonly [key: bigint, stack: Id])[];
};

const known = new WeakMap<Settled, Holders>();

/** The addresses of a site at rest, worked out once. */
export function holdersOf(settled: Settled): Holders {
  const earlier = known.get(settled);
  if (earlier !== undefined) return earlier;
  const all = settled.stacks.flatMap(({ stack, interfaces }) =>
    interfaces.map(
      (leg) => [leg.interface, { stack, keys: new Set([...leg.addresses, ...leg.anycast].map(addressKey)) }] as const,
    ),
  );
  const sorted = all.flatMap(([, { stack, keys }]) => [...keys].map((key) => [key, stack] as const));
  sorted.sort(([a], [b]) => (a < b ? -1 : a > b ? 1 : 0));
  const found = { legs: new Map(all), stacks: new Map(settled.stacks.map((stack) => [stack.stack, stack])), sorted };
  known.set(settled, found);
  return found;
}

/** A stack at rest; undefined: the site has none of this name. */
export function settledStack(settled: Settled, id: Id): SettledStack | undefined {
  return holdersOf(settled).stacks.get(id);
}

/** Stacks that have an address among these. */
export function stacksWithin({ sorted }: Holders, addresses: Ranges): ReadonlySet<Id> {
  const stacks = new Set<Id>();
  for (const [low, high] of addresses) {
    for (let at = firstFrom(sorted, low); at < sorted.length; at++) {
      const [key, stack] = sorted[at] ?? [high + 1n, ""];
      if (key > high) break;
      stacks.add(stack);
    }
  }
  return stacks;
}

/** Whether some interface has an address now. */
export function isOwned({ sorted }: Holders, key: bigint): boolean {
  return sorted[firstFrom(sorted, key)]?.[0] === key;
}

/** Index of the first address from a key on. */
function firstFrom(sorted: Holders["sorted"], low: bigint): number {
  let [from, to] = [0, sorted.length];
  while (from < to) {
    const middle = (from + to) >> 1;
    if ((sorted[middle]?.[0] ?? low) < low) from = middle + 1;
    else to = middle;
  }
  return from;
}
