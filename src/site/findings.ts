/**
 * Collecting diagnostics while a site is resolved. A name that is used and not declared is one fault, however many
 * places use it: it is reported at the first, with the others beside it.
 */
import {
  type Diagnostic,
  type DiagnosticCode,
  type DiagnosticDetails,
  diagnosticAt,
  nearestWord,
  type Span,
} from "../diagnose/index.ts";

/** A name that nothing bears. */
export type UnknownName = {
  /** What it should be: `port`, `network`. */
  readonly kind: string;
  /** Whose it would be, a device's name; absent: the site's. */
  readonly of?: string;
  /** The name as written. */
  readonly name: string;
  /** Where it is used. */
  readonly span: Span;
  /** Names that exist. */
  readonly candidates: Iterable<string>;
  /** Says what exists, when a list of the candidates would be too long or too coarse. */
  readonly note?: string;
  /** How a candidate would be written there; default as it is. */
  readonly written?: (candidate: string) => string;
};

/** Diagnostics as they come up. */
export type Findings = {
  /** Notes one. */
  readonly report: (code: DiagnosticCode, span: Span, message: string, details?: DiagnosticDetails) => void;
  /** Notes a name that nothing bears. */
  readonly unknown: (unknown: UnknownName) => void;
  /** All so far, by file and offset of their primary places. */
  readonly all: () => readonly Diagnostic[];
};

/** Most names listed in a note. */
const MOST_LISTED = 12;

/** Most further places shown beside the first use of an unknown name. */
const MOST_PLACES = 4;

/** An empty collection. Names of and on `incomplete` things are taken to exist. */
export function collectFindings(incomplete: readonly string[] = []): Findings {
  const excused = new Set(incomplete);
  const diagnostics: Diagnostic[] = [];
  const unknowns = new Map<string, { first: UnknownName; more: Span[] }>();
  return {
    report: (code, span, message, details) => void diagnostics.push(diagnosticAt(code, span, message, details)),
    unknown: (unknown) => {
      if (excused.has(unknown.name) || (unknown.of !== undefined && excused.has(unknown.of))) return;
      const key = JSON.stringify([unknown.kind, unknown.of, unknown.name]);
      const known = unknowns.get(key);
      if (known === undefined) unknowns.set(key, { first: unknown, more: [] });
      else known.more.push(unknown.span);
    },
    all: () => [...diagnostics, ...[...unknowns.values()].map(unknownDiagnostic)].sort(byPlace),
  };
}

function unknownDiagnostic({ first, more }: { first: UnknownName; more: readonly Span[] }): Diagnostic {
  const { kind, of, name, span, candidates, note, written = (word: string) => word } = first;
  const words = [...candidates];
  const nearest = nearestWord(name, words);
  const where = of === undefined ? "" : ` on \`${of}\``;
  return diagnosticAt("unknown-name", span, `no ${kind} \`${name}\`${where}`, {
    also: more.slice(0, MOST_PLACES).map((place) => ({ span: place, text: "used here too" })),
    notes: notesOn(first, words, note, more.length),
    help: nearest === undefined ? undefined : `try \`${written(nearest)}\``,
  });
}

function notesOn(
  { kind, of }: UnknownName,
  words: readonly string[],
  note: string | undefined,
  uses: number,
): readonly string[] {
  const owner = of === undefined ? "the site" : `\`${of}\``;
  const listed = words.length > MOST_LISTED ? [...words.slice(0, MOST_LISTED), "..."] : words;
  const has = words.length === 0 ? `${owner} has no ${kind}` : `${owner} has ${listed.join(", ")}`;
  const rest = uses - MOST_PLACES;
  return [note ?? has, ...(rest > 0 ? [`used in ${rest} more places`] : [])];
}

function byPlace(left: Diagnostic, right: Diagnostic): number {
  const a = primarySpan(left);
  const b = primarySpan(right);
  return a.file - b.file || a.start - b.start || a.end - b.end;
}

function primarySpan(diagnostic: Diagnostic): Span {
  const label = diagnostic.labels[0];
  if (label === undefined) throw new Error(`diagnostic ${diagnostic.code} has no place`);
  return label.span;
}
