/**
 * Bonds at rest: which members send and which take what arrives. LACP frames pass over one link and no further: never through
 * a switch, never to a member of another kind of bond (kernel facts 40 to 44). A bond does not go back to a member that failed
 * once while the one that took over lives, so what carried before counts.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Bond, Id, SettledBond } from "../network/index.ts";
import { type LacpMember, lacpCarriers, lacpPairs } from "../protocol/index.ts";
import { type Carrier, linkRate } from "./links.ts";
import type { Plant } from "./plant.ts";

/** Every bond, in the network's order; `before`: how they were until now, empty for the first time. */
export function settleBonds(plant: Plant, carrier: Carrier, before: readonly SettledBond[] = []): SettledBond[] {
  const numbers = new Map(plant.network.bonds.map((bond, index) => [bond.id, index]));
  const carried = new Map(before.map(({ bond, sends }) => [bond, sends]));
  return plant.network.bonds.map((bond) => settleBond(plant, carrier, numbers, bond, carried.get(bond.id) ?? []));
}

function settleBond(
  plant: Plant,
  carrier: Carrier,
  numbers: ReadonlyMap<Id, number>,
  bond: Bond,
  before: readonly Id[],
): SettledBond {
  const up = bond.members.filter((member) => carrier.ports.has(member));
  switch (bond.mode.kind) {
    case "static":
      return settled(bond, up, bond.origin, up.length);
    case "active-backup": {
      // The backup's input is dropped too (fact 43).
      const active = up.find((member) => before.includes(member)) ?? up[0];
      return settled(bond, active === undefined ? [] : [active], bond.origin, up.length);
    }
    case "lacp": {
      const members = up.map((port) => lacpMember(plant, carrier, numbers, bond, port));
      return carriedBond(plant, carrier, bond, members, lacpCarriers(members, bond.alone, before));
    }
  }
}

/** A bond by LACP in which these of its members carry; `fit`: as many are in the group, though some still wait. */
export function carriedBond(
  plant: Plant,
  carrier: Carrier,
  bond: Bond,
  members: readonly LacpMember[],
  carriers: readonly Id[],
  fit: number = carriers.length,
): SettledBond {
  const each = settled(bond, carriers, lacpOrigin(plant, carrier, bond, members, carriers), fit);
  // Without carrier a port of a bridge is off, but an interface takes what arrives (kernel fact 4; link seed 6167).
  return each.sends.length > 0 || plant.placeAt.has(bond.id) ? each : { ...each, takes: carriers };
}

/** `fit`: how many could carry, which `minimum` counts. Of LACP's members those of the group in use count (kernel fact 40). */
function settled(bond: Bond, members: readonly Id[], origin: Origin, fit: number): SettledBond {
  const { minimum } = bond;
  if (minimum !== undefined && fit < minimum.members)
    return { bond: bond.id, sends: [], takes: [], origin: minimum.origin };
  return { bond: bond.id, sends: members, takes: members, origin };
}

function lacpMember(
  plant: Plant,
  carrier: Carrier,
  numbers: ReadonlyMap<Id, number>,
  bond: Bond,
  port: Id,
): LacpMember {
  const rateMbps = linkRate(plant, carrier, port);
  const far = farBond(plant, carrier, port);
  const pairs = far && far.id !== bond.id && bond.mode.kind === "lacp" && far.mode.kind === "lacp";
  if (!far || !pairs || !bothSpeak(bond, far)) return { port, rateMbps };
  return { port, rateMbps, partner: { system: far.hardware, key: numbers.get(far.id) ?? 0 } };
}

function bothSpeak({ mode: a }: Bond, { mode: b }: Bond): boolean {
  return a.kind === "lacp" && b.kind === "lacp" && lacpPairs(a, b);
}

/** The port at the other end of a port's only live link. */
function farPort(plant: Plant, carrier: Carrier, port: Id): Id | undefined {
  const links = (plant.linksAt.get(port) ?? []).filter(({ id }) => carrier.links.has(id));
  return links.length === 1 ? links[0]?.ends.find((end) => end !== port) : undefined;
}

function farBond(plant: Plant, carrier: Carrier, port: Id): Bond | undefined {
  const far = farPort(plant, carrier, port);
  return far === undefined ? undefined : plant.bondOf.get(far);
}

/** Why idle members are idle: the end that is no partner; else what LACP learned. */
function lacpOrigin(
  plant: Plant,
  carrier: Carrier,
  bond: Bond,
  members: readonly LacpMember[],
  carriers: readonly Id[],
): Origin {
  const lonely = members.find(({ partner }) => !partner);
  const far = lonely && farPort(plant, carrier, lonely.port);
  if (!far || (members.length === carriers.length && members.length > 1)) {
    return { by: "learned", from: "lacp", span: bond.origin.span };
  }
  const other = plant.bondOf.get(far);
  if (other) return other.origin;
  const place = plant.placeAt.get(far)?.port ?? plant.ports.get(far);
  const span = place?.origin.span ?? bond.origin.span;
  return { by: "absent", wanted: `a bond by LACP that holds \`${far}\``, span, through: [bond.origin.span] };
}
