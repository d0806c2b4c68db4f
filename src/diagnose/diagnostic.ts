/**
 * A diagnostic is data: code, severity, headline, labelled places, facts and help. Rendering belongs to `report/`.
 */
import type { DiagnosticCode } from "./codes.ts";
import type { Span } from "./span.ts";

/** One marked place of a diagnostic. */
export type Label = {
  /** The marked text. */
  readonly span: Span;
  /** What to say beside it; may be empty. */
  readonly text: string;
  /** The one place the headline speaks of. */
  readonly primary: boolean;
};

/** Whether any of them ends the run. */
export function hasErrors(diagnostics: readonly Diagnostic[]): boolean {
  return diagnostics.some(({ severity }) => severity === "error");
}

/** One fault of the input, or a warning about it. Never thrown: collected. */
export type Diagnostic = {
  /** Kebab word from the table of codes. */
  readonly code: DiagnosticCode;
  /** `error` ends the run with exit status 2; the others do not. */
  readonly severity: "error" | "warning" | "note";
  /** Headline that stands alone, lower case, what was written in backticks. */
  readonly message: string;
  /** Places, the primary one first. */
  readonly labels: readonly Label[];
  /** Facts. */
  readonly notes: readonly string[];
  /** What to do, with the replacement when it is sure. */
  readonly help?: string;
};
