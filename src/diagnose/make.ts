/**
 * Making a diagnostic in one line, with the severity that the table of codes gives it.
 */
import { type DiagnosticCode, type Severity, severityOf } from "./codes.ts";
import type { Diagnostic, Label } from "./diagnostic.ts";
import type { Span } from "./span.ts";

/** What a diagnostic may say beyond its headline. */
export type DiagnosticDetails = {
  /** What to say beside the marked place; default nothing. */
  readonly label?: string;
  /** Further places, with what to say beside each. */
  readonly also?: readonly { readonly span: Span; readonly text: string }[];
  /** Facts; default none. */
  readonly notes?: readonly string[];
  /** What to do, with the replacement when it is sure; absent when there is nothing sure to say. */
  readonly help?: string | undefined;
  /** Default: what the table of codes says. */
  readonly severity?: Severity;
};

/** A diagnostic whose headline speaks of the place `span`. */
export function diagnosticAt(
  code: DiagnosticCode,
  span: Span,
  message: string,
  details: DiagnosticDetails = {},
): Diagnostic {
  const { label = "", also = [], notes = [], help, severity = severityOf(code) } = details;
  const labels: readonly Label[] = [
    { span, text: label, primary: true },
    ...also.map((place) => ({ ...place, primary: false })),
  ];
  return { code, severity, message, labels, notes, ...(help === undefined ? {} : { help }) };
}
