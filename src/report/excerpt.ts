/**
 * A place in a document with its line, the marked piece underlined.
 */
import { locate, type Origin, type Place, type SourceFile, type Span } from "../diagnose/index.ts";
import { COLUMNS, type Ink, oneLine, visible } from "./text.ts";

/** A line longer than this is cut around what is marked. */
const WIDEST = COLUMNS - 6;

/** `file, line 13, column 6`. */
export function tellPlace(place: Place): string {
  return `${oneLine(place.file)}, line ${place.line}, column ${place.column}`;
}

/** The marked line and the marks under it, indented; a piece of several lines shows its first. */
export function excerpt(sources: readonly SourceFile[], span: Span, ink: Ink): string {
  const source = sources[span.file];
  if (source === undefined) return "";
  const start = source.text.lastIndexOf("\n", span.start - 1) + 1;
  const newline = source.text.indexOf("\n", span.start);
  const end = newline < 0 ? source.text.length : newline;
  const before = visible(source.text.slice(start, span.start));
  const marked = visible(source.text.slice(span.start, Math.min(span.end, end)).trimEnd());
  const after = visible(source.text.slice(Math.min(span.end, end), end).trimEnd());
  const cut = Math.max(0, Math.min(before.length, before.length + marked.length + 8 - WIDEST));
  const line = `${cut > 0 ? "…" : ""}${before.slice(cut)}${marked}${after}`;
  const column = before.length - cut + (cut > 0 ? 1 : 0);
  const marks = "^".repeat(Math.max(1, Math.min(marked.length, WIDEST - column)));
  return `      ${clip(line)}\n      ${" ".repeat(column)}${ink.bad(marks)}`;
}

function clip(line: string): string {
  return line.length > WIDEST ? `${line.slice(0, WIDEST - 1)}…` : line;
}

/** Where an origin stands, as a place for reports. */
export function placeOf(sources: readonly SourceFile[], origin: Origin): Place {
  return locate(sources, origin.span);
}
