/**
 * The cells of a policy as a table of text: rows begin, columns are meant, and each cell has its mark and what is so
 * there. Where the names of the columns are too long for a line, numbers stand for them.
 */
import type { Cell, Status } from "../result/index.ts";
import { COLUMNS, type Ink, oneLine, wrap } from "./text.ts";

/** The mark of each status, without its word. */
export const STATUS_MARKS: { readonly [status in Status]: string } = {
  passed: "✓",
  failed: "✗",
  vacuous: "○",
  undecided: "?",
  skipped: "·",
};
const GAP = 2;
const INDENT = 3;

/** The table, then a line for each cell that does not hold and that the headline has not told. */
export function renderPolicyTable(cells: readonly Cell[], headline: string, ink: Ink): readonly string[] {
  const rows = namesOf(cells.map(({ from }) => from));
  const columns = namesOf(cells.map(({ to }) => to));
  const wordAt = new Map(cells.map((cell) => [`${oneLine(cell.from)}\n${oneLine(cell.to)}`, wordOf(cell)]));
  const body = rows.map((row) => [row, ...columns.map((column) => wordAt.get(`${row}\n${column}`) ?? "")]);
  const named = laidOut([["", ...columns], ...body]);
  const isWide = named.some((line) => line.length > COLUMNS);
  const numbered = laidOut([["", ...columns.map((_, index) => String(index + 1))], ...body]);
  return [
    ...(isWide ? numbered : named),
    ...(isWide ? [wrap(columns.map((column, index) => `${index + 1}: ${column}`).join(", "), INDENT)] : []),
    ...cells.flatMap((cell) =>
      cell.text === undefined || headline.includes(cell.text) ? [] : [brokenLine(cell, ink)],
    ),
  ];
}

/** Rows of words with every column as wide as its widest word. */
function laidOut(rows: readonly (readonly string[])[]): readonly string[] {
  const widths = (rows[0] ?? []).map((_, column) => Math.max(...rows.map((row) => row[column]?.length ?? 0)));
  return rows.map((row) => {
    const words = row.map((word, column) => word.padEnd(widths[column] ?? 0));
    return `${" ".repeat(INDENT)}${words.join(" ".repeat(GAP))}`.trimEnd();
  });
}

function namesOf(names: readonly string[]): readonly string[] {
  return [...new Set(names.map(oneLine))];
}

/** The mark and what is so: `open` where something may pass, else `shut`; of what does not hold that it is not so. */
function wordOf({ expect, status, service }: Cell): string {
  const mark = STATUS_MARKS[status];
  const meant = service === "" ? "shut" : "open";
  switch (status) {
    case "passed":
      return `${mark} ${meant}`;
    case "failed":
      // Too little may be open there, or too much.
      return `${mark} not ${expect === "only" ? "as meant" : meant}`;
    case "vacuous":
    case "undecided":
      return `${mark} ${status}`;
    case "skipped":
      return mark;
  }
}

function brokenLine({ from, to, status, text = "" }: Cell, ink: Ink): string {
  const told = wrap(`${STATUS_MARKS[status]} ${from} to ${to}: ${text}`, INDENT, INDENT + 2);
  return status === "undecided" ? ink.open(told) : ink.bad(told);
}
