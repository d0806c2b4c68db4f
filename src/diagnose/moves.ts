/**
 * Where places of files stand once their texts were edited. Texts are cut into pieces that stand unchanged in both: what lies before
 * the first difference, what lies behind the last one, and between these whole lines that stand once in either text, in the same
 * order, with what is the same around them. A place inside one piece moves with it, and one that begins in one and ends in another
 * goes on from where it began to where it ended; all others are gone.
 */
import type { SourceFile, Span } from "./span.ts";

/** Answers where a place stands now; undefined: it was edited, or its file is gone. */
export type Moves = (span: Span) => Span | undefined;

/** Nothing moved. */
export const UNMOVED: Moves = (span) => span;

/** Nobody asks where places stand, before or after: values are alike that say the same. */
export const ANYWHERE: Moves = (span) => span;

/** Letters that stand unchanged. */
type Piece = {
  /** Where they began, in the text before. */
  readonly start: number;
  /** Where they ended there. */
  readonly end: number;
  /** How far they moved. */
  readonly by: number;
};

type Edited = {
  /** The number of the file now. */
  readonly file: number;
  /** In the order of both texts, which do not overlap. */
  readonly pieces: readonly Piece[];
};

/** How places moved from some files to others; files are told by their paths. */
export function movesBetween(before: readonly SourceFile[], after: readonly SourceFile[]): Moves {
  const numbers = new Map(after.map(({ path }, number) => [path, number] as const));
  const edits = before.map(({ path, text }): Edited | undefined => {
    const number = numbers.get(path);
    const now = number === undefined ? undefined : after[number];
    return number === undefined || now === undefined ? undefined : { file: number, pieces: piecesOf(text, now.text) };
  });
  if (edits.every((edit, number) => edit?.file === number && edit.pieces.length === 1)) return UNMOVED;
  return (span) => moved(span, edits[span.file]);
}

function piecesOf(before: string, after: string): readonly Piece[] {
  if (before === after) return [{ start: 0, end: before.length, by: 0 }];
  const { head, tail } = commonEnds(before, after);
  const by = after.length - before.length;
  const [old, now] = [before.slice(head, before.length - tail), after.slice(head, after.length - tail)];
  const inner = linesKept(old, now).map((piece) => ({ ...piece, start: piece.start + head, end: piece.end + head }));
  const last = { start: before.length - tail, end: before.length, by };
  return widened([{ start: 0, end: head, by: 0 }, ...inner, last], before, after);
}

/** Whole lines that stand once in either text, the most of them that are in the same order. */
function linesKept(before: string, after: string): readonly Piece[] {
  const [old, now] = [linesOnce(before), linesOnce(after)];
  const both = [...old].flatMap(([line, start]): Piece[] => {
    const at = now.get(line);
    return at === undefined ? [] : [{ start, end: start + line.length, by: at - start }];
  });
  return longestInOrder(both);
}

/** Where each line stands, with its end, that is there only once; the last one lacks its end and counts for none. */
function linesOnce(text: string): ReadonlyMap<string, number> {
  const places = new Map<string, number>();
  const several = new Set<string>();
  for (let start = 0, end = text.indexOf("\n"); end >= 0; start = end + 1, end = text.indexOf("\n", start)) {
    const line = text.slice(start, end + 1);
    if (places.has(line)) several.add(line);
    places.set(line, start);
  }
  for (const line of several) places.delete(line);
  return places;
}

/** Of pieces in the order of the text before the most that are in the order of the text after, too. */
function longestInOrder(pieces: readonly Piece[]): readonly Piece[] {
  type Chain = { readonly piece: Piece; readonly before: Chain | undefined };
  // Of all chains of a length the one that ends first.
  const chains: Chain[] = [];
  for (const piece of pieces) {
    const place = firstAt(chains, (chain) => startNow(chain.piece) >= startNow(piece));
    chains[place] = { piece, before: chains[place - 1] };
  }
  const kept: Piece[] = [];
  for (let chain = chains.at(-1); chain !== undefined; chain = chain.before) kept.push(chain.piece);
  return kept.reverse();
}

/** The place of the first for which something holds that holds for all behind it, too; their number if for none. */
function firstAt<Each>(sorted: readonly Each[], holds: (each: Each) => boolean): number {
  let [low, high] = [0, sorted.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    const each = sorted[middle] as Each; // within the list
    if (holds(each)) high = middle;
    else low = middle + 1;
  }
  return low;
}

function startNow(piece: Piece): number {
  return piece.start + piece.by;
}

/** Pieces with what is the same around them; those that meet in both texts are one. */
function widened(pieces: readonly Piece[], before: string, after: string): readonly Piece[] {
  const wide: Piece[] = [];
  for (const piece of pieces) {
    const last = wide.pop();
    if (last === undefined) {
      wide.push(piece);
      continue;
    }
    const { head, tail } = commonEnds(
      before.slice(last.end, piece.start),
      after.slice(last.end + last.by, startNow(piece)),
    );
    const [end, start] = [last.end + head, piece.start - tail];
    if (end === start && last.by === piece.by) wide.push({ ...last, end: piece.end });
    else wide.push({ ...last, end }, { ...piece, start });
  }
  return wide;
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

function moved({ start, end }: Span, edited: Edited | undefined): Span | undefined {
  if (edited === undefined) return undefined;
  const { file, pieces } = edited;
  // Of a text that was edited in every other line there are thousands.
  const last = pieces[firstAt(pieces, (piece) => piece.end >= end)];
  if (last === undefined) return undefined;
  if (last.start <= start) return { file, start: start + last.by, end: end + last.by };
  // What was edited inside goes on from where it began to where it ended.
  const first = pieces[firstAt(pieces, (piece) => piece.start > start) - 1];
  if (first === undefined || first.end < start || last.start > end) return undefined;
  return { file, start: start + first.by, end: end + last.by };
}
