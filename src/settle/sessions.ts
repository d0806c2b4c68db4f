/**
 * Interfaces that have peers. PPPoE sessions at rest (RFC 2516 section 5): a client calls everyone on its segment, and the nearest server that hears it
 * and is heard by it takes the call. A storm on the way drowns the call. Nobody else on a segment takes part. The peer of a tunnel is whoever stands at its far end.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Id, Interface, Storm } from "../network/index.ts";
import { type DomainMap, type DomainReach, domainsOn, mapOn, reachOf } from "./domains.ts";
import type { Wires } from "./exits.ts";
import type { Leg } from "./plant.ts";

/** Peers of every interface that has some, a client's and a tunnel's one and a server's many; empty: nobody is there. */
export type Sessions = ReadonlyMap<Id, readonly Id[]>;

/** Whether an interface has peers instead of neighbours: those of a session, or the one of a tunnel. */
export function knowsPeers({ session, tunnel }: Interface): boolean {
  return session !== undefined || tunnel !== undefined;
}

/** Who has a session, or a tunnel, with whom. */
export function settleSessions(wires: Wires, blocked: ReadonlyMap<Id, Origin>, storms: readonly Storm[]): Sessions {
  const legs = [...wires.plant.legs.values()].filter(({ interface: leg }) => knowsPeers(leg));
  if (legs.length === 0) return new Map();
  const map = mapOn(wires.plant, domainsOn(wires, blocked).crossings);
  const peers = new Map<Id, Id[]>(legs.map(({ interface: { id } }) => [id, []]));
  for (const client of legs) {
    if (client.interface.tunnel !== undefined) peers.get(client.interface.id)?.push(...heardBy(map, client, storms));
    if (client.interface.session?.role !== "client") continue;
    const server = heardBy(map, client, storms).find((id) => answers(map, wires, client, id, storms));
    if (server === undefined) continue;
    peers.get(client.interface.id)?.push(server);
    peers.get(server)?.push(client.interface.id);
  }
  return peers;
}

/** Interfaces that hear what an interface says to everyone, nearest first; none where a storm drowns it. */
function heardBy(map: DomainMap, { stack, interface: leg }: Leg, storms: readonly Storm[]): readonly Id[] {
  const reach = reachOf(map, { at: { kind: "interface", stack: stack.id, interface: leg.id }, domain: 0 });
  if (isDrowned(reach, storms)) return [];
  return reach.points.flatMap(({ at }) => (at.kind === "interface" && at.interface !== leg.id ? [at.interface] : []));
}

function isDrowned({ points }: DomainReach, storms: readonly Storm[]): boolean {
  return points.some(
    ({ at, domain }) =>
      at.kind === "bridge" &&
      storms.some(({ domains }) =>
        domains.some(({ bridge, vlan }) => bridge === at.bridge && (vlan === undefined || vlan === domain)),
      ),
  );
}

function answers(map: DomainMap, { plant }: Wires, client: Leg, id: Id, storms: readonly Storm[]): boolean {
  const server = plant.legs.get(id);
  if (server?.interface.session?.role !== "server" || server.stack === client.stack) return false;
  return heardBy(map, server, storms).includes(client.interface.id);
}
