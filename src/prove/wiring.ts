/**
 * What hangs on an attachment: which ports hear it, whether members of a bond lead to one place, whether the far side
 * would take a VLAN. Questions to the atlas, nothing kept.
 */
import { intersectRanges, type Ranges, rangesContain } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Id } from "../network/index.ts";
import type { Atlas } from "./atlas.ts";
import { membersOf } from "./bridge.ts";

/** Why an attachment is there. */
export function originOf(atlas: Atlas, at: Id): Origin {
  const part = atlas.ports.get(at) ?? atlas.bonds.get(at)?.bond ?? atlas.bridgePortAt.get(at)?.port;
  if (part === undefined) throw new Error(`the description has no attachment \`${at}\``);
  return part.origin;
}

/** Ports that hear what a port says: over live links, several of which on one port make a hub. */
export function peersOf(atlas: Atlas, at: Id): readonly Id[] {
  const heard = new Set([at]);
  // A set is walked in the order of adding, what is added on the way included.
  for (const end of heard) {
    if (!isUp(atlas, end)) continue;
    for (const link of atlas.linksAt.get(end) ?? []) {
      if (atlas.down.has(link.id)) continue;
      for (const other of link.ends) if (isUp(atlas, other)) heard.add(other);
    }
  }
  heard.delete(at);
  return [...heard];
}

function isUp(atlas: Atlas, port: Id): boolean {
  return !atlas.down.has(port) && atlas.ports.get(port)?.enabled === true;
}

/** Members that lead to different places: just one where all of them lead to the same. */
export function distinctMembers(atlas: Atlas, members: readonly Id[]): readonly Id[] {
  const [first] = members;
  const places = new Set(members.map((member) => farSideOf(atlas, member)));
  return places.size === 1 && first !== undefined ? [first] : members;
}

function farSideOf(atlas: Atlas, member: Id): string {
  return peersOf(atlas, member)
    .map((peer) => {
      const bond = atlas.bondOf.get(peer);
      if (bond === undefined) return peer;
      return atlas.bonds.get(bond)?.settled.takes.includes(peer) === true ? bond : `${peer} idle`;
    })
    .join(" ");
}

/** Whether one side or the other of an attachment carries one of these VLANs. */
export function wouldTake(atlas: Atlas, at: Id, vlans: Ranges): boolean {
  if (standsThere(atlas, at, vlans)) return true;
  return peersOf(atlas, at).some((peer) => {
    const into = atlas.bondOf.get(peer) ?? peer;
    const there = atlas.bridgePortAt.get(into);
    const isMember = there !== undefined && intersectRanges(membersOf(there.port), vlans).length > 0;
    return isMember || standsThere(atlas, into, vlans);
  });
}

function standsThere(atlas: Atlas, at: Id, vlans: Ranges): boolean {
  const legs = atlas.legsOn.get(at) ?? [];
  return legs.some(({ interface: leg }) => leg.vlan !== undefined && rangesContain(vlans, BigInt(leg.vlan)));
}
