/** Parts of the text of a random link layer: what a bond, a trunk and a port of a host are told. */
import type { Dice } from "../dice.ts";

/** The VLANs of all sites. */
export const VLANS = [10, 20, 30] as const;

/** Modes of bonds, LACP twice. */
export const MODES = ["lacp", "lacp", "static", "active-backup"] as const;

/** What a wrong end is told in place of a mode. */
export function otherMode(dice: Dice, mode: string): string {
  return dice.pick(MODES.filter((each) => each !== mode));
}

const HASHES = ["layer2", "layer2+3", "layer3+4"] as const;

/**
 * A bond's mode with what belongs to it. One end of a bond may be passive: where both are, nobody speaks once they agree, so
 * the kernel's partners expire after 90 s and find one another anew, and that is no rest (link seed 1016).
 */
export function bondOf(dice: Dice, mode: string, mayBePassive: boolean): string {
  if (mode === "active-backup") return `mode: ${mode}`;
  const lacp = mode === "lacp" && mayBePassive && dice.chance(0.2) ? ", activity: passive" : "";
  const speed = mode === "lacp" && dice.chance(0.3) ? ", speed: fast" : "";
  const minimum = mode === "lacp" && dice.chance(0.1) ? ", minimum: 2" : "";
  return `mode: ${mode}, hash: ${dice.pick(HASHES)}${lacp}${speed}${minimum}`;
}

/** Dice, and how likely a word is that does not fit: 1 as written below. */
type Slips = {
  /** The dice. */
  readonly dice: Dice;
  /** Factor of every share of what does not fit. */
  readonly slips: number;
};

/** A trunk that lacks a VLAN now and then. */
export function trunkOf({ dice, slips }: Slips, native: number | undefined): string {
  const tagged = VLANS.filter((vlan) => vlan !== native && !dice.chance(0.05 * slips));
  const parts = [
    ...(native === undefined ? [] : [`untagged: ${native}`]),
    ...(tagged.length === 0 ? [] : [`tagged: [${tagged.join(", ")}]`]),
    ...(dice.chance(0.05 * slips) ? [`admit: ${dice.pick(["tagged", "untagged"])}`] : []),
    ...(dice.chance(0.06) ? ["isolated: yes"] : []),
  ];
  return tagged.length === 0 && native === undefined ? "{ untagged: 10 }" : `{ ${parts.join(", ")} }`;
}

/** The port of a host in a VLAN; most ports of a switch that keeps its hosts apart are isolated. */
export function membershipOf(draft: Slips, place: { readonly apart: boolean }, vlan: number, tagged: boolean): string {
  const { dice, slips } = draft;
  const more = [
    ...(dice.chance(place.apart ? 0.8 : 0.05) ? ["isolated: yes"] : []),
    ...(dice.chance(0.07 * slips) ? [`admit: ${dice.pick(["tagged", "untagged"])}`] : []),
  ];
  return `{ ${[vlansOf(draft, vlan, tagged), ...more].join(", ")} }`;
}

function vlansOf({ dice, slips }: Slips, vlan: number, tagged: boolean): string {
  if (tagged) return `tagged: [${[...new Set([vlan, ...dice.some(VLANS, 0.3)])].join(", ")}]`;
  if (dice.chance(0.12 * slips)) return `port-vlan: ${dice.pick(VLANS)}, leaves-untagged: [${VLANS.join(", ")}]`;
  if (dice.chance(0.05 * slips)) return `port-vlan: none, leaves-untagged: [${vlan}]`;
  return `untagged: ${vlan}`;
}
