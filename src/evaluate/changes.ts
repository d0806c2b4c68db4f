/**
 * What one description of a site has that an earlier one had not, in the grain of footprints: stacks, wiring, owners of
 * addresses, groups, and the common ground that every verdict rests on.
 */
import { addressKey, rangesContain } from "../address/index.ts";
import { isAlike, type Moves, UNMOVED } from "../diagnose/index.ts";
import { deviceOf, type Id, type Network } from "../network/index.ts";
import { commonGroundOf, hasSameNames } from "./common-ground.ts";
import { directoryOf } from "./directory.ts";
import type { Evaluation } from "./evaluation.ts";
import type { Footprint } from "./footprint.ts";
import { type Units, unitsOf } from "./units.ts";
import { Wiring } from "./wiring.ts";
import type { World } from "./worlds.ts";

/** What changed under one set of on-demand links. */
type Difference = {
  /** Ids of stacks. */
  readonly stacks: ReadonlySet<Id>;
  /** Parts of the wiring, by `Wiring.partOf`. */
  readonly parts: ReadonlySet<Id>;
  /** Address keys that somebody got or lost. */
  readonly addresses: readonly bigint[];
  /** What everything rests on changed. */
  readonly isGeneral: boolean;
};

/** What became of one site by an edit. */
export class Changes {
  /** Where places stand now. */
  readonly moves: Moves;
  readonly #before: Evaluation;
  readonly #after: Evaluation;
  readonly #wiring: Wiring;
  readonly #groups: ReadonlySet<Id>;
  readonly #hasSameNames: boolean;
  readonly #differences = new Map<string, Difference>();

  constructor(before: Evaluation, after: Evaluation, moves: Moves = UNMOVED) {
    this.moves = moves;
    this.#before = before;
    this.#after = after;
    this.#wiring = new Wiring([before.network, after.network]);
    this.#groups = groupsChanged(before.network, after.network, moves);
    this.#hasSameNames = hasSameNames(before.network, after.network, moves);
  }

  /** Whether something that a verdict looked at is not what it was. */
  meet(footprint: Footprint): boolean {
    if (footprint.everything || !this.#hasSameNames) return true;
    if (footprint.allGroups ? this.#groups.size > 0 : [...footprint.groups].some((id) => this.#groups.has(id)))
      return true;
    return [...footprint.ups].some(([key, up]) => this.#meets(footprint, this.#under(key, up)));
  }

  #meets({ stacks, places, asked }: Footprint, difference: Difference): boolean {
    if (difference.isGeneral) return true;
    for (const id of stacks) if (difference.stacks.has(id)) return true;
    for (const id of places) if (difference.parts.has(this.#wiring.partOf(id))) return true;
    for (const set of asked) if (difference.addresses.some((key) => rangesContain(set, key))) return true;
    return false;
  }

  #under(key: string, up: readonly Id[]): Difference {
    const known = this.#differences.get(key);
    if (known !== undefined) return known;
    const found = this.#compare(up);
    this.#differences.set(key, found);
    return found;
  }

  #compare(up: readonly Id[]): Difference {
    const [before, after] = [this.#before.worlds(up), this.#after.worlds(up)];
    const grounds = [commonGroundOf(this.#before, before), commonGroundOf(this.#after, after)] as const;
    const isGeneral = !isAlike(...grounds, this.moves);
    if (isGeneral) return { stacks: new Set(), parts: new Set(), addresses: [], isGeneral };
    const [old, now] = [unitsOf(this.#before.network, before.worlds), unitsOf(this.#after.network, after.worlds)];
    return {
      stacks: new Set(this.#differing(old.stacks, now.stacks)),
      parts: new Set(this.#differing(old.wiring, now.wiring).map((id) => this.#wiring.partOf(id))),
      addresses: differingOwners(before.worlds, after.worlds),
      isGeneral,
    };
  }

  #differing(before: Units, after: Units): readonly Id[] {
    const ids = new Set([...before.keys(), ...after.keys()]);
    return [...ids].filter((id) => !isAlike(before.get(id), after.get(id), this.moves));
  }
}

function groupsChanged(before: Network, after: Network, moves: Moves): ReadonlySet<Id> {
  const [old, now] = [directoryOf(before).groups, directoryOf(after).groups];
  return new Set([...old.keys(), ...now.keys()].filter((id) => !isAlike(old.get(id), now.get(id), moves)));
}

/** Keys of addresses that are not with the same stacks in all worlds. */
function differingOwners(before: readonly World[], after: readonly World[]): readonly bigint[] {
  const [old, now] = [ownersIn(before), ownersIn(after)];
  const differing = [...old].filter(([pair]) => !now.has(pair)).map(([, key]) => key);
  return [...differing, ...[...now].filter(([pair]) => !old.has(pair)).map(([, key]) => key)];
}

function ownersIn(worlds: readonly World[]): ReadonlyMap<string, bigint> {
  const owners = new Map<string, bigint>();
  for (const [number, { settled }] of worlds.entries()) {
    for (const { stack, interfaces } of settled.stacks) {
      for (const { addresses, anycast } of interfaces) {
        for (const key of [...addresses, ...anycast].map(addressKey))
          owners.set(`${number} ${key} ${deviceOf(stack)}`, key);
      }
    }
  }
  return owners;
}
