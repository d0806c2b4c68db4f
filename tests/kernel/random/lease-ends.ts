/** How leases end: a table of shares, so that a generator that never makes a server run out of addresses is found. */

import type { World } from "../../../src/evaluate/index.ts";
import { deviceOf, type Id, type Network } from "../../../src/network/index.ts";

/** Ends that must come about. */
const EXPECTED: readonly string[] = [
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

/** Counts of ends over many leases. */
export class LeaseEnds {
  /** Leases asked for so far. */
  leases = 0;
  readonly #counts = new Map<string, number>();

  /** Counts one. */
  note(ends: readonly string[]): void {
    this.leases++;
    for (const end of new Set(ends)) this.#counts.set(end, (this.#counts.get(end) ?? 0) + 1);
  }

  /** One end a line, by its share; those that nothing brought about are listed with 0. */
  lines(): readonly string[] {
    if (this.leases === 0) return [];
    return [...new Set([...EXPECTED, ...this.#counts.keys()])].toSorted().map((end) => {
      const share = (100 * (this.#counts.get(end) ?? 0)) / this.leases;
      return `${share.toFixed(1).padStart(6)} %${share < 1 ? " <" : "  "} lease ${end}`;
    });
  }
}

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
