/**
 * What no question looked at: networks that are no end, rules that no packet might fit, routes that decided nothing, and
 * ports in use where no frame came by. Only what somebody wrote; each in document order.
 */
import { formatPrefix } from "../address/index.ts";
import { deviceOf, type Id, isBeyond, lastName, type Network, type Table } from "../network/index.ts";
import type { Unseen } from "../result/index.ts";
import { directoryOf } from "./directory.ts";
import type { Looks } from "./looks.ts";

/** Every such piece of a site. */
export function unseenIn(network: Network, looks: Looks): readonly Unseen[] {
  const [networks, routes, rules, ports] = [looks.networks, looks.routes, looks.rules, looks.ports].map(
    (ids) => new Set(ids),
  );
  const isNew = (seen: ReadonlySet<Id> | undefined, id: Id): boolean => seen?.has(id) !== true;
  return [
    ...inOrder(networksOf(network).filter(({ id }) => isNew(networks, id))),
    ...inOrder(rulesOf(network).filter(({ id }) => isNew(rules, id))),
    ...inOrder(routesOf(network).filter(({ id }) => isNew(routes, id))),
    ...inOrder(portsOf(network).filter(({ id }) => isNew(ports, id))),
  ];
}

type Piece = Unseen & { readonly id: Id };

function inOrder(pieces: readonly Piece[]): readonly Unseen[] {
  const sorted = [...pieces].sort((a, b) => {
    const [one, other] = [a.origin.span, b.origin.span];
    return one.file - other.file || one.start - other.start || (a.id < b.id ? -1 : 1);
  });
  return sorted.map(({ id: _, ...unseen }) => unseen);
}

function networksOf({ groups }: Network): readonly Piece[] {
  return groups.flatMap(({ id, kind, origin }) =>
    kind === "network" ? [{ kind, id, name: lastName(id), where: "", origin }] : [],
  );
}

function rulesOf({ tables }: Network): readonly Piece[] {
  return tables.flatMap((table) =>
    table.kind === "routes"
      ? []
      : table.rules.flatMap(({ id, origin }): Piece[] => {
          if (origin.by !== "written") return [];
          const kind = table.kind === "filter" ? "rule" : "translation";
          return [{ kind, id, name: lastName(id), where: listOf(table), origin }];
        }),
  );
}

function listOf({ kind, id }: Table): string {
  const list = kind === "filter" ? `the \`${lastName(id)}\` list` : "the translations";
  return `in ${list} of ${deviceOf(id)}`;
}

function routesOf({ tables, devices }: Network): readonly Piece[] {
  const upstreams = new Set(devices.flatMap(({ id, is }) => (is === "upstream" ? [id] : [])));
  return tables.flatMap((table) => {
    if (table.kind !== "routes" || upstreams.has(deviceOf(table.id))) return [];
    return table.routes.flatMap(({ id, family, prefix, length, origin }): Piece[] => {
      if (origin.by !== "written") return [];
      const name = formatPrefix({ family, value: prefix, length });
      return [{ kind: "route", id, name, where: `of ${deviceOf(table.id)}`, origin }];
    });
  });
}

/** Ports that are cabled, or that the plan gives a network or an address; those switched off are nobody's concern. */
function portsOf(network: Network): readonly Piece[] {
  const { devices } = directoryOf(network);
  const used = usedIn(network);
  return network.ports.flatMap(({ id, device, enabled, origin }): Piece[] => {
    const isOurs = enabled && devices.get(device)?.standIn === false && used.has(id) && !isBeyond(id);
    return isOurs ? [{ kind: "port", id, name: id, where: "", origin }] : [];
  });
}

function usedIn({ links, bridges, stacks, bonds }: Network): ReadonlySet<Id> {
  const cabled = links.flatMap(({ kind, onDemand, ends }) => (kind === "cable" && !onDemand ? ends : []));
  const carrying = bridges.flatMap(({ ports }) =>
    ports.flatMap(({ on, untagged, members }) => (untagged.vlan !== "refused" || members.length > 0 ? [on] : [])),
  );
  const standing = stacks.flatMap(({ interfaces }) => interfaces.map(({ on }) => on));
  const used = new Set([...cabled, ...carrying, ...standing]);
  return new Set([...used, ...bonds.flatMap(({ id, members }) => (used.has(id) ? members : []))]);
}
