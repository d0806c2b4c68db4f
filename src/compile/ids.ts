/**
 * Ids of everything that is compiled (see `entry.ts` of `network/`). Where a name that people chose would meet a word of
 * ours in the same place, it gets a `~` in front, which no name may hold.
 */
import { type Id, idOf, portId } from "../network/index.ts";
import type { SiteDevice, SiteFooting } from "../site/index.ts";

/** Words that stand directly below a device in ids. */
const TAKEN: ReadonlySet<string> = new Set([
  "admin",
  "advertise",
  "dhcp",
  "filter",
  "relay",
  "resolver",
  "routes",
  "serves",
  "ssids",
  "stack",
  "switching",
  "translate",
  "tunnels",
]);

/** The association of a radio network where an unknown client enters. */
const OPEN = "open";

/** The bridge's own port. */
const OWN = "own";

/** `edge/crew`. */
export function interfaceId(device: string, name: string): Id {
  return idOf(device, TAKEN.has(name) ? `~${name}` : name);
}

/** `edge/stack`. */
export function stackId(device: string): Id {
  return idOf(device, "stack");
}

/** `edge/routes`. */
export function routesId(device: string): Id {
  return idOf(device, "routes");
}

/** `edge/switching`. */
export function bridgeId(device: string): Id {
  return idOf(device, "switching");
}

/** `edge/switching/lan3`. */
export function bridgePortId(device: string, name: string): Id {
  return idOf(device, "switching", name === OWN ? `~${name}` : name);
}

/** `edge/switching/own`. */
export function ownPortId(device: string): Id {
  return idOf(device, "switching", OWN);
}

/** `loft/ssids/Guest/phone`: the attachment of one client of a radio network. */
export function associationId(device: string, ssid: string, client: string): Id {
  return idOf(device, "ssids", ssid, client === OPEN ? `~${client}` : client);
}

/** `loft/ssids/Guest/open`: where an unknown client enters. */
export function openAssociationId(device: string, ssid: string): Id {
  return idOf(device, "ssids", ssid, OPEN);
}

/** `loft/switching/ssids/Guest/phone`: the bridge port of an association. */
export function associationPortId(association: Id, device: string): Id {
  const prefix = idOf(device, "ssids");
  return `${idOf(device, "switching", "ssids")}${association.slice(prefix.length)}`;
}

/** What an interface stands on. */
export function footingId(device: SiteDevice, footing: SiteFooting): Id {
  if (footing.on === "tunnel") throw new Error(`an interface on \`${footing.port}\` stands on a port for each peer`);
  return footing.on === "bridge" ? ownPortId(device.name) : portId(device.name, footing.port);
}

/** `internet`, `internet/public`. */
export function internetId(scope: "all" | "public"): Id {
  return scope === "all" ? "internet" : idOf("internet", "public");
}

/** Entries sorted by id. */
export function sortedById<T extends { readonly id: Id }>(entries: readonly T[]): readonly T[] {
  return [...entries].sort((left, right) => (left.id < right.id ? -1 : left.id > right.id ? 1 : 0));
}
