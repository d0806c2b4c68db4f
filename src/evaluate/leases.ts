/**
 * What clients were lent while a site came to rest, kept with what that looked at: after an edit that it does not meet nobody
 * has to ask again, nor to settle the site under on-demand links that no question raises now.
 */
import { carried, type Moves } from "../diagnose/index.ts";
import type { Id, Pick } from "../network/index.ts";
import type { Bindings } from "../simulate/index.ts";
import { Footprint } from "./footprint.ts";

/** The leases of a site under some on-demand links. */
export type Leases = {
  /** What all of them looked at. */
  readonly looked: Footprint;
  /** Them, by `leasesKey`. */
  readonly found: Map<string, Bindings>;
};

/** None is known. */
export function noLeases(): Leases {
  return { looked: new Footprint(), found: new Map() };
}

/** Tells leases apart: under which raised links and which picks they were taken. */
export function leasesKey(raised: readonly Id[], picks: readonly Pick[]): string {
  return JSON.stringify([raised, picks.map(({ choice, option }) => [choice, option])]);
}

/** Leases with their places where they are now; undefined: some place is gone. */
export function movedLeases({ looked, found }: Leases, moves: Moves): Leases | undefined {
  const moved = new Map<string, Bindings>();
  for (const [key, bindings] of found) {
    const now = carried(bindings, moves);
    if (now === undefined) return undefined;
    moved.set(key, now);
  }
  return { looked, found: moved };
}
