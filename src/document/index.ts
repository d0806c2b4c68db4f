/**
 * The YAML kinds: what may be written, what it loads to, what is said of each word.
 *
 * A *shape* says in one place what may stand somewhere: how it is read, its JSON Schema, its words. The key tables
 * (`table-*.ts`) are shapes built of shapes, one row a key, tied by the compiler to the documented types (`topology.ts`,
 * `intent*.ts`, `assertions.ts`). Loading, suggestions, `explain` and the JSON Schemas all come from the tables.
 *
 * A loaded document keeps the span of every value; names are text until `site/` resolves them. YAML is read
 * failsafe (all text) in `yaml-text.ts`, the only importer of the library.
 *
 * ```ts
 * const { document, diagnostics } = loadDocument({ path: "topologies/site/intent.yaml", text }, 0);
 * ```
 */
export { ASSERTION_KINDS, type AssertionKind, type AssertionKindEntry, isAssertionKind } from "./assertion-kinds.ts";
export type * from "./assertions.ts";
export {
  type EditableText,
  entryAdded,
  entryBelow,
  entryRemoved,
  entrySet,
  itemAdded,
  itemPut,
  itemRemoved,
  itemsSwapped,
  nodeAt,
  openText,
  type Path,
  pathAt,
  replaced,
  type TextEdit,
  withEdits,
  wordAdded,
} from "./edit-text.ts";
export { type EditedTrees, editTrees, type IntentTrees } from "./edit-tree.ts";
export type * from "./edits.ts";
export { explainCode, explainedWords, explainTopics, explainWord, nearestExplained } from "./explain.ts";
export type * from "./intent.ts";
export type * from "./intent-device.ts";
export type * from "./intent-filter.ts";
export type * from "./intent-services.ts";
export type * from "./intent-switching.ts";
export { jsonSchema } from "./json-schema.ts";
export { expandPortNames } from "./leaf-ports.ts";
export { parseTimeLength } from "./leaf-times.ts";
export type { LoadedDocument, LoadedFile } from "./load.ts";
export { loadDocument, loadTree } from "./load.ts";
export type { Node } from "./node.ts";
export type { JsonSchema } from "./shape.ts";
export type * from "./storyline.ts";
export { GAP_MS, RESTART_MS } from "./storyline.ts";
export type { DocumentKind } from "./table-header.ts";
export { isSameTarget } from "./table-policy.ts";
export type { TableLine } from "./tables.ts";
export { keyTable } from "./tables.ts";
export type * from "./topology.ts";
export type * from "./values.ts";
export { yamlList, yamlText } from "./yaml-words.ts";
