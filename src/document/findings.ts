/**
 * Where a reader of one document collects what is wrong, and which entries were hit: of those nobody should say
 * later that their name or their ports do not exist.
 */
import {
  type Diagnostic,
  type DiagnosticCode,
  type DiagnosticDetails,
  diagnosticAt,
  type Span,
} from "../diagnose/index.ts";
import { MOST_DIAGNOSTICS } from "./limits.ts";

/** Collects the diagnostics of one document. */
export type Findings = {
  /** Adds one. */
  readonly report: (code: DiagnosticCode, span: Span, message: string, details?: DiagnosticDetails) => void;
  /** Counts an error that is told elsewhere. */
  readonly countTold: () => void;
  /** Whether no further diagnostic would be told: then none needs to be worked out. */
  readonly full: () => boolean;
  /** How many errors there are so far. */
  readonly errors: () => number;
  /** Notes that the entry of this name could not be read wholly. */
  readonly markIncomplete: (name: string) => void;
  /** All diagnostics so far, in the order reported, at most `MOST_DIAGNOSTICS` and one that says so. */
  readonly diagnostics: () => readonly Diagnostic[];
  /** The names noted, in order. */
  readonly incomplete: () => readonly string[];
};

/** An empty collection. */
export function startFindings(): Findings {
  const diagnostics: Diagnostic[] = [];
  const incomplete: string[] = [];
  let errors = 0;
  return {
    report(code, span, message, details) {
      const diagnostic = diagnosticAt(code, span, message, details);
      if (diagnostic.severity === "error") errors++;
      if (diagnostics.length < MOST_DIAGNOSTICS) diagnostics.push(diagnostic);
      else if (diagnostics.length === MOST_DIAGNOSTICS) diagnostics.push(tooManyAt(span));
    },
    countTold() {
      errors++;
    },
    full: () => diagnostics.length > MOST_DIAGNOSTICS,
    errors: () => errors,
    markIncomplete: (name) => incomplete.push(name),
    diagnostics: () => diagnostics,
    incomplete: () => incomplete,
  };
}

/** At most `MOST_DIAGNOSTICS`, and one that says that there are more. */
export function capped(diagnostics: readonly Diagnostic[]): readonly Diagnostic[] {
  if (diagnostics.length <= MOST_DIAGNOSTICS + 1) return diagnostics;
  const [first] = diagnostics[MOST_DIAGNOSTICS]?.labels ?? [];
  const told = diagnostics.slice(0, MOST_DIAGNOSTICS);
  return first === undefined ? told : [...told, tooManyAt(first.span)];
}

function tooManyAt(span: Span): Diagnostic {
  return diagnosticAt("too-many", span, `only the first ${MOST_DIAGNOSTICS} diagnostics of this file are told`);
}
