/**
 * What is compared: two states of a site, pairs of their ends, and the sets of packets that a change turns.
 */
import type { SourceFile } from "../diagnose/index.ts";
import type { Evaluation } from "../evaluate/index.ts";
import type { Group, Id } from "../network/index.ts";
import type { Box } from "../prove/index.ts";
import type { Change, Names } from "../result/index.ts";
import type { Site } from "../site/index.ts";
import type { SideFiles } from "./lines.ts";

/** One state of a site. */
export type State = {
  /** Questions to its description. */
  readonly evaluation: Evaluation;
  /** Names of its rules. */
  readonly names: Names;
  /** What is written. */
  readonly site: Site;
  /** Its files. */
  readonly files: SideFiles;
};

/** What is to be compared. */
export type CompareRequest = {
  /** Before the change. */
  readonly base: State;
  /** After it. */
  readonly head: State;
  /** Files of both. */
  readonly sources: readonly SourceFile[];
  /** Devices that are replaced: names in the base with those of their successors. */
  readonly replaced: ReadonlyMap<string, string>;
};

/** An end on both sides; absent where that side has none of this name. */
export type PairEnd = {
  /** Its name, in the head where both have it. */
  readonly id: Id;
  /** In the base. */
  readonly base?: Group;
  /** In the head. */
  readonly head?: Group;
  /** It is not the network of that name, but whoever takes a lease in it. Default: false. */
  readonly isClient?: boolean;
  /** A network where the other end stands itself: of it only those count who are there. Default: false. */
  readonly isHome?: boolean;
};

/** A device, or whoever takes a lease, that is on both sides. */
export type MemberEnd = PairEnd & Required<Pick<PairEnd, "base" | "head">>;

/** Two ends. */
export type Pair = {
  /** Who begins. */
  readonly from: PairEnd;
  /** Who is meant. */
  readonly to: PairEnd;
};

/** On which side packets of a change get through, and on which they do not. */
export const SIDES = {
  "newly-allowed": { here: "head", there: "base" },
  "newly-forbidden": { here: "base", there: "head" },
} as const;

/** Packets that get through on one side only. */
export type TurnedSet = {
  /** Between which ends. */
  readonly pair: Pair;
  /** On which side they get through. */
  readonly change: Change;
  /** Whether they need no packets before them; else whether they are answers, or errors about what was sent. */
  readonly kind: "plain" | "answers" | "errors";
  /** The packets, disjoint. */
  readonly boxes: readonly Box[];
  /** The device that they get to on both sides, where it takes them on one alone; by its id there. Absent: on the other side they do not get there. */
  readonly listener?: Id;
  /** Why they were not worked out. */
  readonly undecided?: string;
};
