/**
 * From offsets to lines and columns. The start of each line is found once a file and kept by the caller or,
 * for `locate`, beside the file's own record; a place is then found by halving.
 * A line ends at LF, CR LF or a lone CR, as YAML 1.2.2 section 5.4 has it.
 */
import type { Place, SourceFile, Span } from "./span.ts";

/** Offset of the first code unit of each line, ascending; the first is 0. */
export type LineStarts = readonly number[];

const LINE_END = /\r\n|\r|\n/g;

/** Where the lines of a text begin. A text that ends in a line end has an empty last line. */
export function lineStartsOf(text: string): LineStarts {
  const starts = [0];
  for (const match of text.matchAll(LINE_END)) starts.push(match.index + match[0].length);
  return starts;
}

/** The 0-based line that holds an offset: the last one that begins at or before it. */
function lineIndexAt(starts: LineStarts, offset: number): number {
  let low = 0;
  let high = starts.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if ((starts[middle] ?? 0) <= offset) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** Line and column of one offset, both 1-based. Offsets outside the text are taken as its nearest end. */
export function placeAt(
  text: string,
  starts: LineStarts,
  offset: number,
): { readonly line: number; readonly column: number } {
  const inside = Math.min(Math.max(offset, 0), text.length);
  const index = lineIndexAt(starts, inside);
  return { line: index + 1, column: inside - (starts[index] ?? 0) + 1 };
}

/** The text of a 1-based line without its line end; empty where there is no such line. */
export function lineText(text: string, starts: LineStarts, line: number): string {
  const start = starts[line - 1];
  if (start === undefined) return "";
  return text.slice(start, starts[line] ?? text.length).replace(/[\r\n]+$/, "");
}

// A pure cache: a record is never changed, so its line starts are a function of the record alone.
const startsOfFile = new WeakMap<SourceFile, LineStarts>();

function cachedStarts(file: SourceFile): LineStarts {
  const known = startsOfFile.get(file);
  if (known !== undefined) return known;
  const starts = lineStartsOf(file.text);
  startsOfFile.set(file, starts);
  return starts;
}

/**
 * Where a span stands, for people. `sources` is the run's list, which `Span.file` indexes.
 * Throws when there is no such file: a span that points nowhere is a fault of ours.
 */
export function locate(sources: readonly SourceFile[], span: Span): Place {
  const file = sources[span.file];
  if (file === undefined) throw new RangeError(`span names file ${span.file} of ${sources.length}`);
  const starts = cachedStarts(file);
  const start = placeAt(file.text, starts, span.start);
  const end = placeAt(file.text, starts, Math.max(span.start, span.end));
  return { file: file.path, line: start.line, column: start.column, endLine: end.line, endColumn: end.column };
}
