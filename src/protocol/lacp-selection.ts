/**
 * Which members of a bond carry together (IEEE 802.1AX selection logic; the order of preference is the kernel's, facts 40
 * to 42). Members aggregate when their partner is the same system with the same key and their rates are equal.
 */
import type { Hardware } from "../address/index.ts";
import type { Bond, Id } from "../network/index.ts";

/** The far end of a member as its messages tell. */
export type LacpPartner = {
  /** System address. */
  readonly system: Hardware;
  /** Key: ports of one system with one key may aggregate. */
  readonly key: number;
};

/** A member whose link is up. */
export type LacpMember = {
  /** The port. */
  readonly port: Id;
  /** Rate of its link in Mbit/s. */
  readonly rateMbps: number;
  /** Who answers on it; absent: nobody does. */
  readonly partner?: LacpPartner;
};

type LacpMode = Extract<Bond["mode"], { readonly kind: "lacp" }>;

/**
 * Whether two ends ever form a bond: one has to be active (802.1AX `LACP_Activity`). The kernel's passive ends speak too, so
 * that two of them pair as well (fact 42).
 */
export function lacpPairs(a: LacpMode, b: LacpMode): boolean {
  return a.active || b.active || (a.passiveMayPair && b.passiveMayPair);
}

/**
 * The members that carry, in the order given (the order of joining). A group with a partner that carried `before` stays as long
 * as any of it lives, else the one with the greatest total rate, the first of equals, comes in. Where nobody answers: the
 * member that carried before, else the first, or none, as the bond is set (kernel fact 40).
 */
export function lacpCarriers(
  members: readonly LacpMember[],
  alone: Bond["alone"],
  before: readonly Id[] = [],
): readonly Id[] {
  const groups = groupsOf(members);
  const group = groups.find((each) => each.some(({ port }) => before.includes(port))) ?? greatest(groups);
  if (group !== undefined) return group.map(({ port }) => port);
  if (alone !== "first-member") return [];
  const lonely = members.find(({ port }) => before.includes(port)) ?? members[0];
  return lonely === undefined ? [] : [lonely.port];
}

type Group = readonly LacpMember[];

/** Members with one partner and one rate, by who comes first. */
function groupsOf(members: readonly LacpMember[]): readonly Group[] {
  const groups = new Map<string, LacpMember[]>();
  for (const member of members) {
    if (!member.partner) continue;
    const key = `${member.partner.system} ${member.partner.key} ${member.rateMbps}`;
    groups.set(key, [...(groups.get(key) ?? []), member]);
  }
  return [...groups.values()];
}

function greatest(groups: readonly Group[]): Group | undefined {
  return groups.reduce<Group | undefined>(
    (best, group) => (best === undefined || totalRate(group) > totalRate(best) ? group : best),
    undefined,
  );
}

function totalRate(members: Group): number {
  return members.reduce((sum, { rateMbps }) => sum + rateMbps, 0);
}
