/** How leases end, and what comes of advertisements, as words to count. */

import type { World } from "../../../src/evaluate/index.ts";
import { deviceOf, type Id, type Network } from "../../../src/network/index.ts";

/** Ends of leases that must come about. */
export const LEASE_ENDS: readonly string[] = [
  ...["from its own network", "from elsewhere, relayed", "of a reservation", "first of two offers"].map(
    (how) => `lent ${how}`,
  ),
  "none: the pool has no address left",
  "none: its request was dropped",
  "none: its link is down",
  "none: the offer was lost",
  "none: the acknowledgement was lost",
  "none: no server hears it",
  "none: nobody serves its network",
];

/** How the lease of an interface ended in a world. */
export function leaseEnds({ services }: Network, { settled, failures }: World, id: Id): readonly string[] {
  const binding = settled.bindings.find((each) => each.interface === id && each.family === 4);
  if (binding === undefined) return [`none: ${failures.find((each) => each.interface === id)?.text ?? "?"}`];
  const service = services.find((each) => each.id === binding.server);
  if (service?.kind !== "dhcp-server") throw new Error(`${deviceOf(id)} has a lease of nobody`);
  return [
    service.interface === undefined ? "lent from elsewhere, relayed" : "lent from its own network",
    ...(service.reservations.some(({ value }) => value === binding.value) ? ["lent of a reservation"] : []),
    ...(binding.offered.length > 1 ? ["lent first of two offers"] : []),
  ];
}

/** Ends of waiting for advertisements that must come about. */
export const ADVERTISED_ENDS: readonly string[] = [
  "an address and a router",
  "an address alone",
  "two addresses",
  "two routers",
  "an address off the link",
  "no address, but routes",
  "none: its link is down",
  "none: it drops the advertisement",
  "none: no address is advertised to it",
];

/** What came of advertisements for an interface in a world. */
export function advertisedEnds({ settled, failures }: World, id: Id): readonly string[] {
  const bindings = settled.bindings.filter((each) => each.interface === id && each.family === 6);
  const addresses = new Set(bindings.flatMap(({ value }) => value ?? []));
  const said = failures.find((each) => each.interface === id)?.text ?? "?";
  if (addresses.size === 0) return [bindings.length > 0 ? "no address, but routes" : `none: ${said}`];
  const routers = new Set(
    bindings.flatMap(({ server, routes }) => (routes.some(({ length }) => length === 0) ? [server] : [])),
  );
  return [
    routers.size > 0 ? "an address and a router" : "an address alone",
    ...(addresses.size > 1 ? ["two addresses"] : []),
    ...(routers.size > 1 ? ["two routers"] : []),
    ...(bindings.some(({ value, prefixLength }) => value !== undefined && prefixLength === 128)
      ? ["an address off the link"]
      : []),
  ];
}
