/**
 * Where places of files stand once their texts were edited. One hunk a file: what lies before the first difference stays
 * where it was, what lies behind the last one moves with it, what touches neither end is gone.
 */
import type { SourceFile, Span } from "./span.ts";

/** Answers where a place stands now; undefined: it was edited, or its file is gone. */
export type Moves = (span: Span) => Span | undefined;

/** Nothing moved. */
export const UNMOVED: Moves = (span) => span;

/** Nobody asks where places stand, before or after: values are alike that say the same. */
export const ANYWHERE: Moves = (span) => span;

type Hunk = {
  /** The number of the file now. */
  readonly file: number;
  /** Letters before the first difference. */
  readonly head: number;
  /** Where the letters behind the last difference begin, in the text before. */
  readonly tail: number;
  /** How far those moved. */
  readonly by: number;
};

/** How places moved from some files to others; files are told by their paths. */
export function movesBetween(before: readonly SourceFile[], after: readonly SourceFile[]): Moves {
  const numbers = new Map(after.map(({ path }, number) => [path, number] as const));
  const hunks = before.map((file): Hunk | undefined => {
    const number = numbers.get(file.path);
    const now = number === undefined ? undefined : after[number];
    return number === undefined || now === undefined ? undefined : hunkOf(file.text, now.text, number);
  });
  if (hunks.every((hunk, number) => hunk?.file === number && hunk.by === 0 && hunk.tail === hunk.head)) return UNMOVED;
  return (span) => moved(span, hunks[span.file]);
}

function hunkOf(before: string, after: string, file: number): Hunk {
  if (before === after) return { file, head: before.length, tail: before.length, by: 0 };
  const { head, tail } = commonEnds(before, after);
  return { file, head, tail: before.length - tail, by: after.length - before.length };
}

/** How many letters two texts have in common at their beginnings, and how many of the others at their ends. */
export function commonEnds(before: string, after: string): { readonly head: number; readonly tail: number } {
  const shorter = Math.min(before.length, after.length);
  let head = 0;
  while (head < shorter && before[head] === after[head]) head++;
  let tail = 0;
  while (tail < shorter - head && before[before.length - 1 - tail] === after[after.length - 1 - tail]) tail++;
  return { head, tail };
}

function moved({ start, end }: Span, hunk: Hunk | undefined): Span | undefined {
  if (hunk === undefined) return undefined;
  const { file, head, tail, by } = hunk;
  if (end <= head) return { file, start, end };
  if (start >= tail) return { file, start: start + by, end: end + by };
  // What was edited inside goes on from where it began to where it ended.
  return start <= head && end >= tail ? { file, start, end: end + by } : undefined;
}
