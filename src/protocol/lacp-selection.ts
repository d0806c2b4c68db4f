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
 * The members that carry, in the order given (the order of joining): the group with a partner that has the greatest total
 * rate, the first of equals. Where nobody answers: the first member or none, as the bond is set.
 */
export function lacpCarriers(members: readonly LacpMember[], alone: Bond["alone"]): readonly Id[] {
  const groups = new Map<string, LacpMember[]>();
  for (const member of members) {
    if (!member.partner) continue;
    const key = `${member.partner.system} ${member.partner.key} ${member.rateMbps}`;
    groups.set(key, [...(groups.get(key) ?? []), member]);
  }
  let best: readonly LacpMember[] = [];
  for (const group of groups.values()) if (totalRate(group) > totalRate(best) || best.length === 0) best = group;
  if (best.length === 0 && alone === "first-member") best = members.slice(0, 1);
  return best.map(({ port }) => port);
}

function totalRate(members: readonly LacpMember[]): number {
  return members.reduce((sum, { rateMbps }) => sum + rateMbps, 0);
}
