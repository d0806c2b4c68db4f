/**
 * Names of the places in a page that links lead to. They are made of numbers alone, so that no text of a document is part
 * of them.
 */
import type { Run, Verdict } from "../../result/index.ts";

/** Numbers of verdicts in the order of the run. */
export type Numbers = ReadonlyMap<Verdict, number>;

/** Numbers the verdicts of a run from 1. */
export function numbered({ verdicts }: Run): Numbers {
  return new Map(verdicts.map((verdict, index) => [verdict, index + 1]));
}

/** Where a verdict is told. */
export function verdictPlace(number: number): string {
  return `a${number}`;
}

/** A cell of the table of a site. */
export function cellPlace(site: number, row: number, column: number): string {
  return `c${site}-${row}-${column}`;
}

/** A link back to a cell. */
export type CellLink = {
  /** Where it is. */
  readonly place: string;
  /** Its row and column in words. */
  readonly text: string;
};

/** Cells of the table that show a verdict, by its number. */
export type CellLinks = ReadonlyMap<number, readonly CellLink[]>;
