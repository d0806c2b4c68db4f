/**
 * Runs and diagnostics as text: for a terminal, as JSON, as JUnit XML. Each report escapes its own syntax and every
 * control character that a document may hold.
 */
export { renderAgreement } from "./agreement.ts";
export { renderComparison } from "./comparison.ts";
export { renderComparisonJson } from "./comparison-json.ts";
export { renderComparisonMarkdown } from "./comparison-markdown.ts";
export { renderDiagnostics } from "./diagnostics.ts";
export { diagnosticOf, jsonOf, renderJson } from "./json.ts";
export {
  type JsonDiagnostic,
  type JsonReport,
  type JsonResult,
  jsonReportJsonSchema,
  jsonReportSchema,
} from "./json-report.ts";
export { renderJunit } from "./junit.ts";
export { renderMarkdown } from "./markdown.ts";
export { NO_VERDICT, renderAlone, renderTerminal, type TerminalOptions } from "./terminal.ts";
export { INK, type Ink, NO_INK } from "./text.ts";
export { renderTrace } from "./trace.ts";
