/**
 * A site at rest under some on-demand links, in all its worlds, as it is held against another one after an edit.
 */
import { addressKey } from "../address/index.ts";
import { deviceOf, type Id, type Network } from "../network/index.ts";
import type { LinkAnswer, Translating } from "../prove/index.ts";
import { commonGroundOf, pluggedGroundOf } from "./common-ground.ts";
import type { Evaluation } from "./evaluation.ts";
import { type Resting, unitsOf } from "./units.ts";
import type { Worlds } from "./worlds.ts";

/** A site at rest with what all proofs about it rest on. */
export type State = {
  /** Its description, with what is plugged in. */
  readonly network: Network;
  /** What it can become. */
  readonly worlds: readonly Resting[];
  /** The common ground (`common-ground.ts`), as plain values. */
  readonly ground: unknown;
  /** What translations do to addresses, world by world; undefined: nobody can tell. */
  readonly translating: readonly (Translating | undefined)[];
  /** What the link layer says of some places, world by world. */
  readonly linksAt: (ids: readonly Id[]) => readonly LinkWord[];
};

/** What the link layer says of some places in one world. */
export type LinkWord = {
  /** It; undefined: nobody can tell. */
  readonly said: LinkAnswer | undefined;
  /** An interface wakes up where something is plugged in there. */
  readonly wakes: boolean;
};

const states = new WeakMap<Worlds, State>();

/** A site under some on-demand links; worked out once, since one plan is compared with many. */
export function stateOf(evaluation: Evaluation, up: readonly Id[]): State {
  const found = evaluation.worlds(up);
  const known = states.get(found);
  if (known !== undefined) return known;
  const { network } = evaluation;
  const { worlds } = found;
  const linksAt = (ids: readonly Id[]): readonly LinkWord[] =>
    worlds.map((world) => {
      return { said: evaluation.linkAt(world, ids), wakes: evaluation.pluggedAt(world, ids) !== undefined };
    });
  const translating = worlds.map((world) => evaluation.translatingIn(world));
  const state = { network, worlds, ground: commonGroundOf(evaluation, found), translating, linksAt };
  states.set(found, state);
  return state;
}

/** The same with something plugged in, world by world; undefined: nothing comes up by that. */
export function pluggedStatesOf(
  evaluation: Evaluation,
  up: readonly Id[],
  places: readonly Id[],
): readonly (State | undefined)[] {
  return evaluation.worlds(up).worlds.map((world) => {
    const plugged = evaluation.pluggedAt(world, places);
    if (plugged === undefined) return undefined;
    const linksAt = (ids: readonly Id[]): readonly LinkWord[] => [{ said: plugged.linkAt(ids), wakes: false }];
    const { network: lit, translating } = plugged;
    return { network: lit, worlds: [plugged], ground: pluggedGroundOf(plugged), translating: [translating], linksAt };
  });
}

const units = new WeakMap<State, ReturnType<typeof unitsOf>>();

/** A state cut into what may change; worked out once. */
export function unitsIn(state: State): ReturnType<typeof unitsOf> {
  const known = units.get(state) ?? unitsOf(state.network, state.worlds);
  units.set(state, known);
  return known;
}

/** Keys of addresses that are not with the same stacks in all worlds; stacks that both states share have the same. */
export function differingOwners(before: State, after: State): readonly bigint[] {
  const [old, now] = [ownersIn(before, after), ownersIn(after, before)];
  const differing = [...old].filter(([pair]) => !now.has(pair)).map(([, key]) => key);
  return [...differing, ...[...now].filter(([pair]) => !old.has(pair)).map(([, key]) => key)];
}

function ownersIn({ worlds }: State, { worlds: others }: State): ReadonlyMap<string, bigint> {
  const owners = new Map<string, bigint>();
  for (const [number, { settled }] of worlds.entries()) {
    const shared = new Set(others[number]?.settled.stacks);
    for (const each of settled.stacks) {
      if (shared.has(each)) continue;
      const { stack, interfaces } = each;
      for (const { addresses, anycast } of interfaces) {
        for (const key of [...addresses, ...anycast].map(addressKey))
          owners.set(`${number} ${key} ${deviceOf(stack)}`, key);
      }
    }
  }
  return owners;
}
