/**
 * Further subnets of a segment, beside 10.40.ID.0/24 and fd40:ID::/64: which of its addresses a stack sends from is
 * decided only where it has several that differ.
 */
import type { Dice } from "../dice.ts";

/** A segment, as far as it matters here. */
type Segment = {
  readonly id: number;
  /** Whether it has a further IPv4 subnet. */
  readonly moved: boolean;
  /** Whether it has further IPv6 subnets, of several labels. */
  readonly labelled: boolean;
};

/** Addresses of a leg beside its first ones. */
export type Further = {
  /** In the segment's further IPv4 subnet, or none. */
  readonly four: readonly string[];
  /** Whether it is written before the others, so that the stack would use it wherever nothing else decides. */
  readonly isFirst: boolean;
  /** In further IPv6 subnets. */
  readonly six: readonly string[];
};

/** Their labels are 1, 2, 1 and 12 (RFC 6724). The first two have most bits in common, and so have the last two. */
const PREFIXES: readonly ((id: number) => string)[] = [
  (id) => `2001:db8:${id}::`,
  (id) => `2002:c000:2${id.toString(16).padStart(2, "0")}::`,
  (id) => `3fff:${id}::`,
  (id) => `3ffe:${id}::`,
];

/** What hosts have of these: two of which the wrong one looks like what they lack, or one alone. */
const OF_HOSTS: readonly (readonly number[])[] = [[1, 2], [2, 1], [0, 3], [3, 0], [0], [2]];

/** What a new leg has. Routers have everything, so that it is reached. */
export function furtherOf(dice: Dice, { id, moved, labelled }: Segment, host: number, router: boolean): Further {
  const four = moved && (router || dice.chance(0.7)) ? [furtherAddress4(id, host)] : [];
  const prefixes = router ? PREFIXES.keys() : dice.pick(OF_HOSTS);
  const six = labelled ? [...prefixes].map((index) => `${PREFIXES[index]?.(id) ?? ""}${host}`) : [];
  return { four, isFirst: dice.chance(0.5), six };
}

/** An address in the further IPv4 subnet. */
export function furtherAddress4(id: number, host: number): string {
  return `10.40.${128 + id}.${host}`;
}

/** The further subnets of a segment: where routes have to lead. */
export function furtherSubnets({ id, moved, labelled }: Segment): {
  readonly four: readonly string[];
  readonly six: readonly string[];
} {
  return {
    four: moved ? [`10.40.${128 + id}.0/24`] : [],
    six: labelled ? PREFIXES.map((prefix) => `"${prefix(id)}/64"`) : [],
  };
}
