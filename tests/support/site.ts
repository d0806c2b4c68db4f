/**
 * Sites and networks from YAML text, for tests: each text is one document; a heading that is left out is told from the
 * keys. `siteOf` and `networkOf` throw on any error of the documents, `resolvedOf` answers with all diagnostics.
 */
import { compile } from "../../src/compile/index.ts";
import type { Diagnostic, SourceFile } from "../../src/diagnose/index.ts";
import { type IntentDocument, loadDocument, type TopologyDocument } from "../../src/document/index.ts";
import type { Network } from "../../src/network/index.ts";
import { type Resolved, resolveSite, type Site } from "../../src/site/index.ts";

/** Files, what they resolve to, and how to show a span. */
export type ResolvedTexts = Resolved & {
  /** The files, as a run would hold them. */
  readonly files: readonly SourceFile[];
  /** The text at a span. */
  readonly textAt: (span: { readonly file: number; readonly start: number; readonly end: number }) => string;
};

/** Loads and resolves texts; diagnostics of loading come first. */
export function resolvedOf(...texts: readonly string[]): ResolvedTexts {
  return resolvedAt(0, texts);
}

/** The same where other files come before: the first of these has that number. */
export function resolvedAt(first: number, texts: readonly string[]): ResolvedTexts {
  const files = texts.map((text, index) => ({ path: `${index}.yaml`, text: withHeading(text) }));
  const loaded = files.map((file, index) => loadDocument(file, first + index));
  const documents = loaded.flatMap(({ document }) => (document === undefined ? [] : [document]));
  const topologies = documents.filter((document): document is TopologyDocument => document.kind === "topology");
  const intents = documents.filter((document): document is IntentDocument => document.kind === "intent");
  const incomplete = loaded.flatMap((file) => file.incomplete);
  const resolved = resolveSite({ topologies, intents, incomplete, unread: documents.length < files.length });
  return {
    ...resolved,
    diagnostics: [...loaded.flatMap((file) => file.diagnostics), ...resolved.diagnostics],
    files,
    textAt: ({ file, start, end }) => files[file - first]?.text.slice(start, end) ?? "",
  };
}

/** Adds the heading that the keys call for. */
function withHeading(text: string): string {
  if (/^dryrack:/m.test(text)) return text;
  const topology = /^cables:|\bis:/m.test(text);
  return `dryrack: ${topology ? "topology" : "intent"}/1\n${text}`;
}

/** The site of some texts. */
export function siteOf(...texts: readonly string[]): Site {
  const { site, diagnostics } = resolvedOf(...texts);
  if (site === undefined || diagnostics.some(({ severity }) => severity === "error")) {
    throw new Error(`the documents are wrong:\n${diagnostics.map(describe).join("\n")}`);
  }
  return site;
}

/** The network of some texts. */
export function networkOf(...texts: readonly string[]): Network {
  return compile(siteOf(...texts));
}

function describe({ code, severity, message, labels, notes, help }: Diagnostic): string {
  const span = labels[0]?.span;
  return [`${severity} ${code}: ${message} (file ${span?.file}, offset ${span?.start})`, ...notes, help ?? ""].join(
    "\n  ",
  );
}
