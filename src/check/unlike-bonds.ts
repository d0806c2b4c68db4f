/**
 * Bonds that carry nothing: at the ends of the same cables they choose their members in ways that do not fit, which the line of either
 * tells, or no cable is in any member.
 */
import { isSameSpan, type Origin } from "../diagnose/index.ts";
import type { Bond, Network } from "../network/index.ts";
import { lacking, noCableIn } from "./unjoined.ts";

/** A line behind a failure; of a bond that is unlike the one opposite, with how each of them chooses, and of one without any cable that. */
export function withModes(origin: Origin, network: Network): Origin {
  const bond = network.bonds.find((each) => isSameSpan(each.origin.span, origin.span));
  if (bond === undefined) return origin;
  const isPulled = (member: string): boolean => !network.links.some(({ ends }) => ends.includes(member));
  if (bond.members.every(isPulled)) return noCableIn(bond.members, origin);
  const far = oppositeOf(bond, network);
  if (far === undefined || far.mode.kind === bond.mode.kind) return origin;
  return lacking(origin, `one mode with ${far.id} (${far.mode.kind} there, ${bond.mode.kind} here)`);
}

function oppositeOf({ members }: Bond, { bonds, links }: Network): Bond | undefined {
  const far = links.flatMap(({ ends }) =>
    ends.some((end) => members.includes(end)) ? ends.filter((end) => !members.includes(end)) : [],
  );
  return bonds.find((each) => each.members.some((member) => far.includes(member)));
}
