/**
 * A sheet as Markdown: a heading, then a table for each part.
 */
import type { Sheet, SheetKind, SheetPart } from "../result/index.ts";
import { escaped } from "./markdown-text.ts";

/** What each sheet is called. */
export const SHEET_TITLES: Readonly<Record<SheetKind, string>> = {
  ports: "Port map",
  addresses: "Address plan",
  labels: "Cable labels",
};

/** The sheet, ending in a newline. */
export function renderSheetMarkdown({ kind, site, parts }: Sheet): string {
  return `${[`# ${SHEET_TITLES[kind]}: ${escaped(site)}`, ...parts.map(partIn)].join("\n\n")}\n`;
}

function partIn({ heading, note, columns, rows }: SheetPart): string {
  const line = (cells: readonly string[]): string => `| ${cells.map(escaped).join(" | ")} |`;
  const table = [line(columns), `|${columns.map(() => " --- |").join("")}`, ...rows.map(line)].join("\n");
  const body = rows.length === 0 ? "Nothing." : table;
  return [`## ${escaped(heading)}`, ...(note === "" ? [] : [escaped(note)]), body].join("\n\n");
}
