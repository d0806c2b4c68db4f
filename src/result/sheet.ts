/**
 * A sheet that people pin to the rack, as plain data: tables under headings. Every text is as it was written, unescaped.
 */

/** Which sheets there are. */
export const SHEETS = ["ports", "addresses", "labels"] as const;

/** What a sheet tells: what is plugged in where, who has which address, what to write on cables. */
export type SheetKind = (typeof SHEETS)[number];

/** A sheet. */
export type Sheet = {
  /** What it tells. */
  readonly kind: SheetKind;
  /** Name of the site. */
  readonly site: string;
  /** Its tables, in document order. */
  readonly parts: readonly SheetPart[];
};

/** A table under a heading. */
export type SheetPart = {
  /** What it is about. */
  readonly heading: string;
  /** What is said of the whole of it; empty: nothing. */
  readonly note: string;
  /** Headings of its columns. */
  readonly columns: readonly string[];
  /** A cell for each column. */
  readonly rows: readonly (readonly string[])[];
};
