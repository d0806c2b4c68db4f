/**
 * What hangs on an attachment: which ports hear it, whether members of a bond lead to one place, which VLANs the far
 * side takes. Questions to the atlas, nothing kept.
 */
import { EMPTY_RANGES, type Ranges, rangesOf, unionRanges } from "../address/index.ts";
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

const peers = new WeakMap<Atlas, Map<Id, readonly Id[]>>();

/** Ports that hear what a port says: over live links, several of which on one port make a hub. */
export function peersOf(atlas: Atlas, at: Id): readonly Id[] {
  const all = peers.get(atlas) ?? new Map<Id, readonly Id[]>();
  peers.set(atlas, all);
  const found = all.get(at) ?? findPeers(atlas, at);
  all.set(at, found);
  return found;
}

function findPeers(atlas: Atlas, at: Id): readonly Id[] {
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

/** VLANs that somebody at an attachment takes, on one side or the other, whatever the bridge port there is a member of. */
export function carriedBeyond(atlas: Atlas, at: Id): Ranges {
  const beyond = peersOf(atlas, at).flatMap((peer) => {
    const into = atlas.bondOf.get(peer) ?? peer;
    const there = atlas.bridgePortAt.get(into);
    return [there === undefined ? EMPTY_RANGES : membersOf(there.port), standingAt(atlas, into)];
  });
  return [standingAt(atlas, at), ...beyond].reduce(unionRanges, EMPTY_RANGES);
}

/** VLANs of the interfaces that stand on an attachment with a tag. */
function standingAt(atlas: Atlas, at: Id): Ranges {
  const tags = (atlas.legsOn.get(at) ?? []).flatMap(({ interface: leg }) =>
    leg.vlan === undefined ? [] : [BigInt(leg.vlan)],
  );
  return rangesOf(tags);
}
