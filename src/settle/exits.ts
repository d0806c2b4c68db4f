/**
 * Where a frame comes out that leaves by an attachment: the ports at the other ends of its live links, each resolved to the
 * attachment that takes what arrives there. Ports whose links meet in one port share a medium and all hear one another.
 */
import type { Id, SettledBond } from "../network/index.ts";
import type { Carrier } from "./links.ts";
import type { Plant } from "./plant.ts";

/** The link layer once bonds are settled. */
export type Wires = {
  /** The network. */
  readonly plant: Plant;
  /** Links and ports that are up. */
  readonly carrier: Carrier;
  /** Bonds at rest, by id. */
  readonly bonds: ReadonlyMap<Id, SettledBond>;
  /** Members that a bond's flows are held to by a pick. */
  readonly members: ReadonlyMap<Id, Id>;
};

/** One way out. */
export type Exit = {
  /** The physical port it leaves by. */
  readonly by: Id;
  /** The physical port where it arrives. */
  readonly at: Id;
  /** The attachment that takes it: the port, or the bond that the port is a member of. */
  readonly into: Id;
  /** The bond there that drops it, its member being idle. */
  readonly idle?: SettledBond;
};

/** Physical ports that an attachment sends by; empty: no carrier. */
export function sendersOf({ carrier, bonds, members }: Wires, attachment: Id): readonly Id[] {
  const bond = bonds.get(attachment);
  if (!bond) return carrier.ports.has(attachment) ? [attachment] : [];
  const held = members.get(attachment);
  return held !== undefined && bond.sends.includes(held) ? [held] : bond.sends;
}

/** Where frames arrive that leave by an attachment, whichever of its members they take. */
export function exitsOf(wires: Wires, attachment: Id): Exit[] {
  return sendersOf(wires, attachment).flatMap((by) => mediumOf(wires, by).map((at) => exitAt(wires, by, at)));
}

function exitAt({ plant, bonds }: Wires, by: Id, at: Id): Exit {
  const bond = plant.bondOf.get(at);
  if (!bond) return { by, at, into: at };
  const settled = bonds.get(bond.id);
  return settled && !settled.takes.includes(at) ? { by, at, into: bond.id, idle: settled } : { by, at, into: bond.id };
}

/** The other ports on a port's medium. */
function mediumOf({ plant, carrier }: Wires, port: Id): Id[] {
  const found = new Set([port]);
  // A set is walked in the order of adding, what is added on the way included.
  for (const at of found) {
    for (const link of plant.linksAt.get(at) ?? []) {
      if (carrier.links.has(link.id)) for (const end of link.ends) found.add(end);
    }
  }
  found.delete(port);
  return [...found];
}
