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
  /** Only a topology can declare it: what could not be read of an intent is no excuse. Default: false. */
  readonly racked?: boolean;
  /** Names that exist. */
  readonly candidates: Iterable<string>;
  /** Says what exists, when a list of the candidates would be too long or too coarse. */
  readonly note?: string;
  /** How a candidate would be written there; default as it is. */
  readonly written?: (candidate: string) => string;
};

/** What a diagnostic of a site may say, and what it may follow from. */
export type FaultDetails = DiagnosticDetails & {
  /**
   * Devices and networks that would not have this fault if they had been read wholly: nothing is reported where one of
   * them was not. `anything`: it may follow from whatever was not read. Default: it follows from nothing.
   */
  readonly about?: readonly string[] | "anything";
  /** The cause: further reports of the same cause are places of the first one. Default: each is a fault of its own. */
  readonly cause?: string;
};

/** Diagnostics as they come up. */
export type Findings = {
  /** Notes one, unless it follows from what was not read. */
  readonly report: (code: DiagnosticCode, span: Span, message: string, details?: FaultDetails) => void;
  /** Notes a name that nothing bears. */
  readonly unknown: (unknown: UnknownName) => void;
  /** All so far, by file and offset of their primary places. */
  readonly all: () => readonly Diagnostic[];
};

/** Most names listed in a note. */
const MOST_LISTED = 12;

/** Kinds whose names share one namespace. */
const SHARED_KINDS: ReadonlySet<string> = new Set(["network", "device", "network, device or set"]);

/** Most further places shown beside the first use of an unknown name. */
const MOST_PLACES = 4;

/** What was not read (see `DocumentsOfSite`). */
export type Unread = {
  /** Names whose entries could not be read wholly: they, and whatever is on them, are taken to exist. */
  readonly incomplete: readonly string[];
  /** Of these, the names whose entry in a topology could not be read wholly. Default: all. */
  readonly incompleteRacks?: readonly string[];
  /** Any name may be declared in a file that could not be read. */
  readonly unread: boolean;
};

/** An empty collection. */
export function collectFindings(
  { incomplete, incompleteRacks = incomplete, unread }: Unread = { incomplete: [], unread: false },
): Findings {
  const excused = new Set(incomplete);
  const excusedRacks = new Set(incompleteRacks);
  const follows = (about: FaultDetails["about"]): boolean => {
    if (about === undefined) return false;
    return unread || (about === "anything" ? excused.size > 0 : about.some((name) => excused.has(name)));
  };
  const causes = new Map<string, { readonly at: number; readonly more: Span[] }>();
  const diagnostics: Diagnostic[] = [];
  const unknowns = new Map<string, { first: UnknownName; more: Span[] }>();
  return {
    report: (code, span, message, { about, cause, ...details } = {}) => {
      if (follows(about)) return;
      const known = cause === undefined ? undefined : causes.get(cause);
      if (known !== undefined) known.more.push(span);
      else if (cause !== undefined) causes.set(cause, { at: diagnostics.length, more: [] });
      if (known === undefined) diagnostics.push(diagnosticAt(code, span, message, details));
    },
    unknown: (unknown) => {
      const names = unknown.racked === true ? excusedRacks : excused;
      if (unread || names.has(unknown.name) || (unknown.of !== undefined && names.has(unknown.of))) return;
      // One namespace, one fault: a name may be used where a network is expected and where a device may stand too.
      const kind = SHARED_KINDS.has(unknown.kind) ? "shared" : unknown.kind;
      const key = JSON.stringify([kind, unknown.of, unknown.name]);
      const known = unknowns.get(key);
      if (known === undefined) unknowns.set(key, { first: unknown, more: [] });
      else known.more.push(unknown.span);
    },
    all: () =>
      [...withPlaces(diagnostics, [...causes.values()]), ...[...unknowns.values()].map(unknownDiagnostic)].sort(
        byPlace,
      ),
  };
}

/** Diagnostics with the further places of their causes. */
function withPlaces(
  diagnostics: readonly Diagnostic[],
  causes: readonly { readonly at: number; readonly more: readonly Span[] }[],
): readonly Diagnostic[] {
  const more = new Map(causes.map((cause) => [cause.at, cause.more]));
  return diagnostics.map((diagnostic, at) => ({
    ...diagnostic,
    labels: [...diagnostic.labels, ...usedHereToo(more.get(at) ?? [])],
  }));
}

function usedHereToo(places: readonly Span[]): Diagnostic["labels"] {
  return places.slice(0, MOST_PLACES).map((span) => ({ span, text: "used here too", primary: false }));
}

function unknownDiagnostic({ first, more }: { first: UnknownName; more: readonly Span[] }): Diagnostic {
  const { kind, of, name, span, candidates, note, written = (word: string) => word } = first;
  const words = [...new Set(candidates)];
  const nearest = nearestWord(name, words);
  const where = of === undefined ? "" : ` on \`${of}\``;
  return diagnosticAt("unknown-name", span, `no ${kind} \`${name}\`${where}`, {
    also: usedHereToo(more),
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
