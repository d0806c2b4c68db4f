/**
 * From the text of a file to a loaded document. Pure; never throws on any text; all diagnostics of the file at once, in
 * the order of their places.
 */
import { type Diagnostic, diagnosticAt, nearestWord, type SourceFile, type Span } from "../diagnose/index.ts";
import type { AssertionsDocument } from "./assertions.ts";
import { capped, startFindings } from "./findings.ts";
import type { IntentDocument } from "./intent.ts";
import { type MapNode, type Node, shorten, type TextNode } from "./node.ts";
import type { Shape } from "./shape.ts";
import type { StorylineDocument } from "./storyline.ts";
import { assertionsTable } from "./table-assertions.ts";
import { type DocumentKind, KINDS, VERSION } from "./table-header.ts";
import { intentTable } from "./table-intent.ts";
import { storylineTable } from "./table-storyline.ts";
import { topologyTable } from "./table-topology.ts";
import type { TopologyDocument } from "./topology.ts";
import { parseYaml } from "./yaml-text.ts";

/** A document of any kind. */
export type LoadedDocument = TopologyDocument | IntentDocument | AssertionsDocument | StorylineDocument;

/** What loading a file gives. */
export type LoadedFile = {
  /**
   * The document; after errors it holds what could be read, so that more can be said about the plan. Undefined when the
   * file is no document of a kind that is read.
   */
  readonly document?: LoadedDocument;
  /** What is wrong, in the order of the places. Any error means that the plan must not be judged. */
  readonly diagnostics: readonly Diagnostic[];
  /**
   * Names of devices, networks, sets, roles and shared fates whose entry could not be read wholly. They are taken to exist, with
   * every port and part that somebody refers to: complaints about those would follow from a fault that is told already.
   */
  readonly incomplete: readonly string[];
  /** True where a key of the document itself has no meaning: a whole section may be missing, and every name in it. Default: false. */
  readonly lost?: boolean;
};

/** Loads one document; `file` is the index of `source` in the run's list of files. */
export function loadDocument(source: SourceFile, file: number): LoadedFile {
  const { root, diagnostics } = parseYaml(source, file);
  if (root === undefined) return { diagnostics: capped(diagnostics), incomplete: [] };
  return loadTree(root, { file, start: 0, end: Math.min(1, source.text.length) }, diagnostics);
}

/** The same from a tree, each of whose nodes knows its own place; `start` is where the whole is told of. */
export function loadTree(root: Node, start: Span, diagnostics: readonly Diagnostic[] = []): LoadedFile {
  const heading = readHeading(root, start);
  if (!("kind" in heading)) return { diagnostics: inOrder([...diagnostics, heading]), incomplete: [] };
  const foreign = foreignTo(heading.kind, heading.root);
  if (foreign !== undefined) return { diagnostics: inOrder([...diagnostics, foreign]), incomplete: [] };
  const findings = startFindings();
  const document = readKind(heading.kind, heading.root, findings);
  const sections = new Set(heading.root.entries.map(({ key }) => key.span.start));
  const isLost = ({ code, labels: [label] }: Diagnostic): boolean =>
    code === "unknown-key" && label !== undefined && sections.has(label.span.start);
  return {
    ...(findings.diagnostics().some(isLost) ? { lost: true } : {}),
    ...(document === undefined ? {} : { document }),
    diagnostics: inOrder([...diagnostics, ...findings.diagnostics()]),
    incomplete: findings.incomplete(),
  };
}

/** By place; diagnostics of one place stay in the order they were told. */
function inOrder(diagnostics: readonly Diagnostic[]): readonly Diagnostic[] {
  const startOf = ({ labels }: Diagnostic): number => labels[0]?.span.start ?? 0;
  return capped(diagnostics.toSorted((left, right) => startOf(left) - startOf(right)));
}

function readKind(
  kind: DocumentKind,
  root: MapNode,
  findings: ReturnType<typeof startFindings>,
): LoadedDocument | undefined {
  const read = <T>(table: Shape<T>): T | undefined =>
    table.read(root, findings, { says: "the document", span: root.entries[0]?.key.span ?? root.span });
  switch (kind) {
    case "topology": {
      const body = read(topologyTable);
      return (
        body && { kind, span: body.span, devices: body.devices, cables: body.cables, sharedFates: body.sharedFates }
      );
    }
    case "intent": {
      const body = read(intentTable);
      return (
        body && {
          kind,
          span: body.span,
          networks: body.networks,
          sets: body.sets,
          portRoles: body.portRoles,
          devices: body.devices,
        }
      );
    }
    case "assertions": {
      const body = read(assertionsTable);
      return body && { kind, span: body.span, assertions: body.assertions };
    }
    case "storyline": {
      const body = read(storylineTable);
      if (body === undefined) return undefined;
      const { header: _, ...rest } = body;
      return { kind, ...rest };
    }
  }
}

/** A document whose keys are all of another kind than its first line says: told once, instead of key by key. */
function foreignTo(kind: DocumentKind, root: MapNode): Diagnostic | undefined {
  const keys = root.entries.map(({ key }) => key).filter(({ text }) => text !== "dryrack");
  const [strange] = keys.filter(({ text }) => !TOP_KEYS[kind].has(text));
  const other = KINDS.find((each) => each !== kind && keys.every(({ text }) => TOP_KEYS[each].has(text)));
  if (strange === undefined || other === undefined) return undefined;
  return diagnosticAt("unknown-kind", strange.span, `\`${strange.text}\` is a key of a document of another kind`, {
    notes: [`the first line says \`${kind}/${VERSION}\``],
    help: `write \`dryrack: ${other}/${VERSION}\` if this is one`,
  });
}

const topKeys = (table: Shape<unknown>): ReadonlySet<string> =>
  new Set(table.parts.flatMap(({ row }) => (row === undefined ? [] : [row.key])));
const TOP_KEYS: Readonly<Record<DocumentKind, ReadonlySet<string>>> = {
  topology: topKeys(topologyTable),
  intent: topKeys(intentTable),
  assertions: topKeys(assertionsTable),
  storyline: topKeys(storylineTable),
};

/** The kind of a document, or why it has none. */
function readHeading(root: Node, start: Span): { readonly kind: DocumentKind; readonly root: MapNode } | Diagnostic {
  if (root.kind === "nothing") return headless(start, "the file holds no document");
  if (root.kind !== "map") return headless(root.span, "a document is a mapping that has the key `dryrack`");
  const heading = root.entries.find(({ key }) => key.text === "dryrack");
  if (heading === undefined)
    return headless(root.entries[0]?.key.span ?? root.span, "the document does not say its kind");
  if (heading.value.kind !== "text") return headless(heading.key.span, "`dryrack` takes a kind and version");
  const kind = kindOf(heading.value);
  return typeof kind === "string" ? { kind, root } : kind;
}

const HEADINGS = KINDS.map((kind) => `${kind}/${VERSION}`);
const HEADING_NOTE = `the kinds are ${HEADINGS.map((heading) => `\`${heading}\``).join(", ")}`;

function headless(span: Span, message: string): Diagnostic {
  const help = "begin it with `dryrack: topology/1`, or with another kind";
  return diagnosticAt("unknown-kind", span, message, { notes: [HEADING_NOTE], help });
}

function kindOf({ text, span }: TextNode): DocumentKind | Diagnostic {
  const [, word = text, digits = ""] = /^([^/]*)\/(.*)$/s.exec(text) ?? [];
  const kind = KINDS.find((known) => known === word);
  if (kind === undefined) return unknownKind(text, span, nearestWord(word, KINDS));
  if (!/^[1-9]\d{0,8}$/.test(digits)) return unknownKind(text, span, word);
  return Number(digits) > VERSION ? newer(text, word, span) : kind;
}

function unknownKind(text: string, span: Span, nearest: string | undefined): Diagnostic {
  const help = nearest === undefined ? undefined : `write \`${nearest}/${VERSION}\``;
  return diagnosticAt("unknown-kind", span, `\`${shorten(text)}\` is not a kind of document`, {
    notes: [HEADING_NOTE],
    help,
  });
}

function newer(text: string, word: string, span: Span): Diagnostic {
  const notes = [`this release reads \`${word}/${VERSION}\``];
  return diagnosticAt("newer-version", span, `\`${shorten(text)}\` is written for a newer dryrack`, { notes });
}
