/**
 * Frames on the link layer as sets, with what their sender had to put on them: tags that bridges took off since come first,
 * then the outer tag as it is now, unless a bridge put that one on.
 */
import { type Ranges, rangesContain } from "../address/index.ts";
import type { Id } from "../network/index.ts";
import type { BridgeExit, Domain, TagSet } from "./bridge.ts";
import type { Trail } from "./trail.ts";

/** Frames on their way. */
export type Wave = {
  /** The frames. */
  readonly tags: TagSet;
  /** Absent: they have not moved yet. */
  readonly trail: Trail | undefined;
  /** Attachment where they entered, or an interface sends them. */
  readonly sentAt: Id;
  /** Tags that the sender put in front of those of `tags`, and that bridges took off. */
  readonly taken: readonly number[];
  /** The outer tag was put on by a bridge or an interface, not by the sender. */
  readonly given: boolean;
  /** Bridges with an interface of their own that frames passed, in a word: what goes to such an interface alone did not (`kept.ts`). Absent: none. */
  readonly passed?: string;
  /** Absent: not part of a reach that several entrances share. */
  readonly part?: Part;
};

/** Which part of a shared reach frames belong to. */
export type Part = {
  /** The bridge port that they left the first bridge by. */
  readonly branch: Id;
  /** Which of the domains that they entered there. */
  readonly domain: number;
};

/** What the sender had to put on a frame that leaves a bridge so. */
export function sentTags(wave: Wave, { vlans, came }: Domain, exit: BridgeExit): Pick<Wave, "taken" | "given"> {
  const { taken, given } = wave;
  if (vlans === undefined) return { taken, given };
  const isPlain = came.untagged || rangesContain(came.vlans, 0n);
  if (!exit.bare) return isPlain ? { taken: [...taken, ...priority(came)], given: true } : { taken, given };
  const put = isPlain ? priority(came) : given ? [] : [lowestOf(exit.inside)];
  return { taken: [...taken, ...put], given: false };
}

/** What the sender had to put on a frame that is in a domain of a bridge. */
export function tagsInside({ taken, given }: Wave, { vlans, came }: Domain): Pick<Wave, "taken" | "given"> {
  const isPlain = came.untagged || rangesContain(came.vlans, 0n);
  if (vlans === undefined || !isPlain) return { taken, given };
  return { taken: [...taken, ...priority(came)], given: true };
}

/** The priority tag, where there was one. */
function priority(came: TagSet): readonly number[] {
  return came.untagged ? [] : [0];
}

function lowestOf(vlans: Ranges): number {
  return Number(vlans[0]?.[0] ?? 0n);
}

/** Tags of one frame of a wave as it was sent; `vlans`: its outer tag now, empty for none. */
export function tagsOf({ taken, given }: Pick<Wave, "taken" | "given">, vlans: Ranges): readonly number[] {
  return vlans.length === 0 || given ? taken : [...taken, lowestOf(vlans)];
}
