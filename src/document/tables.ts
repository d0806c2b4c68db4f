/**
 * The whole key table: every key of every kind, walked out of the shapes that read them.
 */
import type { KeyRow, Shape } from "./shape.ts";
import { assertionsTable } from "./table-assertions.ts";
import type { DocumentKind } from "./table-header.ts";
import { intentTable } from "./table-intent.ts";
import { storylineTable } from "./table-storyline.ts";
import { topologyTable } from "./table-topology.ts";

/** The shape of each kind of document. */
export const TABLES: Readonly<Record<DocumentKind, Shape<unknown>>> = {
  topology: topologyTable,
  intent: intentTable,
  assertions: assertionsTable,
  storyline: storylineTable,
};

/** One line of the whole table. */
export type TableLine = {
  /** The kind of document. */
  readonly kind: DocumentKind;
  /** The path of the key, with `*` for names of the user's: `devices.*.dhcp.*.lease`. */
  readonly path: string;
  /** The row. */
  readonly row: KeyRow;
};

/** Every key of every kind, each kind from the top down. */
export function keyTable(): readonly TableLine[] {
  return Object.entries(TABLES).flatMap(([kind, table]) =>
    // TABLES has exactly the kinds as its keys.
    linesOf(kind as DocumentKind, table, ""),
  );
}

/** Lines within a shape; a key that two alternatives of a value share appears once. */
function linesOf(kind: DocumentKind, shape: Shape<unknown>, path: string): readonly TableLine[] {
  const lines = new Map<string, TableLine>();
  const visit = (within: Shape<unknown>, at: string): void => {
    for (const { suffix, row, shape: inner } of within.parts) {
      const here = `${at}${suffix}`.replace(/^\./, "");
      if (row !== undefined && !lines.has(here)) lines.set(here, { kind, path: here, row });
      visit(inner, here);
    }
  };
  visit(shape, path);
  return [...lines.values()];
}
