/**
 * Media: ports joined by links that are up hear one another; several links on one port make a hub of it.
 */
import { deviceOf, type Id, type Link, type Network } from "../network/index.ts";
import { type Attachment, type Medium, need } from "./plan.ts";

/** Gives every port its medium, or the reason why it has none. */
export function mediaOf(network: Network, down: ReadonlySet<Id>, attachments: ReadonlyMap<Id, Attachment>): void {
  const standIns = new Set(network.devices.flatMap(({ id, standIn }) => (standIn ? [id] : [])));
  for (const link of network.links) {
    const ends = link.ends.map((id) => need(attachments, id, "port"));
    const isUp = !down.has(link.id) && ends.every(({ id, enabled }) => enabled && !down.has(id));
    if (isUp) join(link, ends);
    else
      for (const end of ends.filter(({ id }) => isTheirs(link, id, standIns))) {
        end.idle = { reason: "link-down", origin: link.origin };
      }
  }
  for (const { id, enabled, origin } of network.ports) {
    const port = need(attachments, id, "port");
    if (!enabled) port.idle = { reason: "link-down", origin };
  }
}

/** Where a stand-in client might be plugged in and nobody asks for one, nothing is. */
function isTheirs({ onDemand }: Link, end: Id, standIns: ReadonlySet<Id>): boolean {
  return !onDemand || standIns.has(deviceOf(end));
}

function join(link: Link, ends: readonly Attachment[]): void {
  const parts = [...new Set(ends.flatMap(({ medium }) => medium ?? []))];
  const [first] = parts;
  const ports = [...new Set([...parts.flatMap((part) => part.ports), ...ends])];
  const medium: Medium = first ? { ...first, ports } : { link: link.id, origin: link.origin, ports };
  for (const port of ports) port.medium = medium;
}
