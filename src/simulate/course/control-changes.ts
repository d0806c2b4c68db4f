/**
 * What counts as a change of the link layer, and what a tree's port is said to do.
 */
import type { SettledBond } from "../../network/index.ts";
import { type LacpState, lacpCarries, lacpCarriesAlone, lacpPartnerOf } from "../../protocol/index.ts";

/** A port's phase as a sentence fragment. */
export const PHASES = {
  disabled: "has no link",
  blocking: "blocks",
  listening: "listens",
  learning: "learns",
  forwarding: "forwards",
} as const;

/** Whether a bond carries as before. */
export function isSameBond(one: SettledBond, other: SettledBond): boolean {
  return one.sends.join(" ") === other.sends.join(" ") && one.takes.join(" ") === other.takes.join(" ");
}

/** Whether a bond may take its members otherwise after this. */
export function isTurned(before: LacpState, after: LacpState): boolean {
  const wordOf = (state: LacpState): string => {
    const partner = lacpPartnerOf(state);
    return `${state.state} ${partner?.system} ${partner?.key} ${lacpCarries(state)} ${lacpCarriesAlone(state)}`;
  };
  return wordOf(before) !== wordOf(after);
}
