/**
 * The closed table of diagnostic codes: what each means, for `explain CODE` and for the reports.
 * The entries stand in one file an area, so that adding a code is adding one entry there and nothing else:
 * the union `DiagnosticCode` follows. A code is a kebab word and is never used for anything else later.
 */
import { PLAN_CODES } from "./plan-codes.ts";
import { READING_CODES } from "./reading-codes.ts";
import { STORY_CODES } from "./story-codes.ts";
import { VALUE_CODES } from "./value-codes.ts";

/** How much a diagnostic weighs: an `error` ends the run with exit status 2, the others do not. */
export type Severity = "error" | "warning" | "note";

/** What the table says about one code. */
export type CodeEntry = {
  /** What diagnostics of this code weigh unless the place that raises one says otherwise; default `error`. */
  readonly severity?: Severity;
  /** Two to five sentences: what is wrong, why it matters, what to do. */
  readonly explanation: string;
  /** A few lines of a document that raise the code, or what else does. */
  readonly example: string;
};

/** Every code there is. */
export type DiagnosticCode =
  | keyof typeof READING_CODES
  | keyof typeof VALUE_CODES
  | keyof typeof PLAN_CODES
  | keyof typeof STORY_CODES;

/** The table, by code, in the order of the areas. */
export const CODES: Readonly<Record<DiagnosticCode, CodeEntry>> = {
  ...READING_CODES,
  ...VALUE_CODES,
  ...PLAN_CODES,
  ...STORY_CODES,
};

/** Whether a word, typed by a person after `explain`, is a code. */
export function isDiagnosticCode(word: string): word is DiagnosticCode {
  return Object.hasOwn(CODES, word);
}

/** What diagnostics of this code weigh unless something else is said. */
export function severityOf(code: DiagnosticCode): Severity {
  return CODES[code].severity ?? "error";
}
