/**
 * The target of a question, ready to be asked: which addresses belong to it, which interfaces and segments.
 */
import { EMPTY_RANGES, FAMILY_KEYS, type Ranges, unionRanges } from "../address/index.ts";
import type { Id, SegmentPoint } from "../network/index.ts";
import type { Atlas } from "./atlas.ts";
import type { Target } from "./question.ts";

/** What counts as arriving. */
export type Aim = {
  /** Address keys whose owner, or whose place on a link, is the target. */
  readonly addresses: Ranges;
  /** Stacks where delivery counts; empty: any. */
  readonly stacks: ReadonlySet<Id>;
  readonly segments: readonly SegmentPoint[];
  /** Interfaces of upstreams. */
  readonly upstreams: ReadonlySet<Id>;
};

/** Every address of both families. */
export const ALL_ADDRESSES: Ranges = [FAMILY_KEYS[4], FAMILY_KEYS[6]];

/** Makes a target ready. */
export function aimAt(target: Target, atlas: Atlas): Aim {
  const owned = target.interfaces.reduce(
    (keys, id) => unionRanges(keys, atlas.legs.get(id)?.own ?? EMPTY_RANGES),
    EMPTY_RANGES,
  );
  return {
    addresses: target.anyAddress === true ? ALL_ADDRESSES : unionRanges(target.addresses, owned),
    stacks: new Set(target.stacks),
    segments: target.segments,
    upstreams: new Set(target.upstreams),
  };
}

/** Addresses whose delivery at a stack counts. */
export function countingAt(aim: Aim, stack: Id): Ranges {
  return aim.stacks.size === 0 || aim.stacks.has(stack) ? aim.addresses : EMPTY_RANGES;
}
