/**
 * Where something stands in what the person wrote. Offsets only: line and column are computed when a
 * diagnostic is rendered, from the text of the file (see `locate`).
 */

/** A piece of one source file, in UTF-16 offsets; `end` is exclusive. */
export type Span = {
  /** Index into the run's list of source files. */
  readonly file: number;
  /** Offset of the first code unit. */
  readonly start: number;
  /** Offset behind the last code unit. */
  readonly end: number;
};

/** Whether two pieces are one and the same. */
export function isSameSpan(a: Span, b: Span): boolean {
  return a.file === b.file && a.start === b.start && a.end === b.end;
}

/** A source file as it was read; `Span.file` is its index in the run's list. */
export type SourceFile = {
  /** Path as shown to people: relative to the repository, with `/`. */
  readonly path: string;
  /** The whole text. */
  readonly text: string;
};

/** A place as people and reports read it; lines and columns are 1-based, columns count UTF-16 code units. */
export type Place = {
  /** Path as shown to people. */
  readonly file: string;
  /** First line, 1-based. */
  readonly line: number;
  /** First column, 1-based. */
  readonly column: number;
  /** Last line, 1-based. */
  readonly endLine: number;
  /** Column behind the last character, 1-based. */
  readonly endColumn: number;
};
