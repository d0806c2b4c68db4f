/**
 * One part of a run that several jobs share: which assertions it judged, and the files of the plan, so that whoever puts the
 * parts together needs nothing but their reports.
 */

import type { SourceFile } from "../diagnose/index.ts";

/** One part of several. */
export type Part = {
  /** Its number, 1-based. */
  readonly part: number;
  /** How many parts there are. */
  readonly of: number;
};

/** A file as it was read. */
export type PartFile = {
  /** As reports call it. */
  readonly path: string;
  /** What reading gave. */
  readonly read:
    | {
        /** What it says. */
        readonly text: string;
      }
    | {
        /** Why it could not be read. */
        readonly problem: "missing" | "unreadable" | "too-large" | "outside";
      };
};

/** A site as it was read. */
export type PartSite = {
  /** Its name. */
  readonly name: string;
  /** As reports call its folder. */
  readonly folder: string;
  /** Files of its topology and intent. */
  readonly plan: readonly PartFile[];
  /** Files of its assertions. */
  readonly judges: readonly PartFile[];
};

/** What some questions looked at, by ids. */
export type PartLooks = {
  /** Rules of filters and translations. */
  readonly rules: readonly string[];
  /** Routes. */
  readonly routes: readonly string[];
  /** Networks. */
  readonly networks: readonly string[];
  /** Ports and bonds. */
  readonly ports: readonly string[];
};

/** A part with what all parts were judged on. */
export type Shard = Part & {
  /** Names of the only assertions that the run judges; absent: all of them. */
  readonly only?: readonly string[];
  /** Every site of the run, in its order. */
  readonly sites: readonly PartSite[];
  /** Files that were read besides, for storylines: places point into them behind those of the sites. */
  readonly more: readonly SourceFile[];
  /** What the questions of this part looked at, site by site; none where nothing was judged. */
  readonly looks: readonly PartLooks[];
};

/** The things that a part of them all has: neighbours, so that the parts in their order are all. */
export function partOf<Thing>(things: readonly Thing[], { part, of }: Part): readonly Thing[] {
  return things.slice(countUpTo({ part: part - 1, of }, things.length), countUpTo({ part, of }, things.length));
}

/** How many of so many things a part and those before it have together; `part` 0: none. */
export function countUpTo({ part, of }: Part, things: number): number {
  return Math.floor((part * things) / of);
}
