/**
 * Footprints: what a verdict looked at, or looked for in vain. A verdict stands as long as nothing of that changes.
 *
 * The grain, coarse so that it is sound and costs next to nothing:
 *
 * - stacks: all of a device above the link layer (steps, tables, routes, services, what it is at rest);
 * - wiring: all that frames can pass without being routed around a place, with every station there and its addresses. So a
 *   new cable, station or address changes what looked for one in vain;
 * - owners: who in the site has an address of a set;
 * - groups: what a name means; all of them where addresses were written;
 * - worlds: under which on-demand links it was asked. Worlds themselves are always worked out anew;
 * - everything: verdicts that do not pass tell reasons from all over the site, and are always asked again, as are all verdicts
 *   about leases, segments, and sites with tunnels.
 */
import type { Ranges } from "../address/index.ts";
import type { Id, Notes } from "../network/index.ts";

/** A footprint as it is taken. */
export class Footprint implements Notes {
  /** Ids of stacks. */
  readonly stacks: Set<Id> = new Set();
  /** Ids of places in the wiring. */
  readonly places: Set<Id> = new Set();
  /** Sets of addresses of which it was asked who has some. */
  readonly asked: Set<Ranges> = new Set();
  /** Ids of groups. */
  readonly groups: Set<Id> = new Set();
  /** On-demand links that were up, by their text. */
  readonly ups: Map<string, readonly Id[]> = new Map();
  /** What all groups mean counts. */
  allGroups = false;
  /** It rests on more than can be told. */
  everything = false;

  stack = (id: Id): void => {
    this.stacks.add(id);
  };

  wiring = (id: Id): void => {
    this.places.add(id);
  };

  owners = (addresses: Ranges): void => {
    this.asked.add(addresses);
  };

  /** All that another one holds. */
  add(other: Footprint): void {
    for (const id of other.stacks) this.stacks.add(id);
    for (const id of other.places) this.places.add(id);
    for (const each of other.asked) this.asked.add(each);
    for (const id of other.groups) this.groups.add(id);
    for (const [key, up] of other.ups) this.ups.set(key, up);
    this.allGroups ||= other.allGroups;
    this.everything ||= other.everything;
  }
}
