/**
 * The published JSON Schema of each kind (draft 2020-12), made from the key table. It accepts what a failsafe parser yields (all text) and
 * what a core-schema parser yields (numbers for plain digits), and says less than the loader where a pattern would have to copy a parser.
 */
import type { JsonSchema, SchemaDefinitions } from "./shape.ts";
import { ABOUT, type DocumentKind } from "./table-header.ts";
import { TABLES } from "./tables.ts";

/** The schema of a kind of document. */
export function jsonSchema(kind: DocumentKind): JsonSchema {
  const definitions: SchemaDefinitions = new Map();
  const root = TABLES[kind].schema(definitions);
  return {
    $schema: "https://json-schema.org/draft/2020-12/schema",
    title: `dryrack ${kind}`,
    description: ABOUT[kind],
    ...root,
    $defs: Object.fromEntries(definitions),
  };
}
