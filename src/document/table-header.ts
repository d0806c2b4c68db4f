/**
 * The key that heads every document: its kind and version.
 */
import { leaf } from "./shape.ts";
import { type Row, required } from "./shape-record.ts";
import type { Located } from "./values.ts";

/** The kinds that have a key table. */
export type DocumentKind = "topology" | "intent" | "assertions" | "storyline";

/** Every kind, in the order people meet them. */
export const KINDS: readonly DocumentKind[] = ["topology", "intent", "assertions", "storyline"];

/** What each kind of document says, in a sentence. */
export const ABOUT: Readonly<Record<DocumentKind, string>> = {
  topology: "What is racked and cabled.",
  intent: "What the configuration should be.",
  assertions: "What must hold.",
  storyline: "What happens to a site over time, and what must hold or was seen meanwhile.",
};

/** The version of every kind that this release reads. */
export const VERSION = 1;

/** What the heading key is read into. */
export type Header = {
  /** Kind and version, as written. */
  readonly header: Located<string>;
};

/** The row of the heading key; the loader has read it before, to know which kind it has. */
export function header(kind: DocumentKind): Row<Located<string>, "required"> {
  const written = `${kind}/${VERSION}`;
  const shape = leaf<string>({ says: `\`${written}\``, parse: (text) => text, schema: { const: written } });
  return required("dryrack", shape, {
    says: "Kind and version of the document; every document has this key.",
    example: written,
  });
}
