/**
 * An edit that might mend: what it changes, in words and in the text of one file. Candidates stand on ladders, the
 * narrowest on the lowest rung: the first that mends is taken, and what opens more is not looked at.
 */
import type { Span } from "../diagnose/index.ts";
import type { TextEdit } from "../document/index.ts";
import type { RepairKind } from "../result/index.ts";
import type { Placed } from "./plan.ts";

/** One edit, untried. */
export type Candidate = {
  /** What it changes. */
  readonly kind: RepairKind;
  /** What to do, in a sentence without its end. */
  readonly text: string;
  /** Number of the file. */
  readonly file: number;
  /** What becomes of its text. */
  readonly edits: readonly TextEdit[];
  /** It adds what is missing in a list that is there, for those whom the list is meant for. Default: false. */
  readonly completes?: true;
};

/** Candidates for one purpose, the narrowest first. */
export type Ladder = readonly Candidate[];

/** A candidate at a place. */
export function candidate(kind: RepairKind, text: string, { file }: Placed, edits: readonly TextEdit[]): Candidate {
  return { kind, text, file, edits };
}

/** The first of all that have one key; keys in `seen` were had before. */
export function firstOfEach<Kind>(
  all: readonly Kind[],
  keyOf: (one: Kind) => string,
  seen: Set<string> = new Set(),
): readonly Kind[] {
  return all.filter((one) => {
    const key = keyOf(one);
    const isNew = !seen.has(key);
    seen.add(key);
    return isNew;
  });
}

/** Where a candidate's edits begin. */
export function beginOf({ edits, file }: Candidate): Span {
  const start = Math.min(...edits.map(({ span }) => span.start));
  return { file, start, end: Math.max(start, ...edits.map(({ span }) => span.end)) };
}
