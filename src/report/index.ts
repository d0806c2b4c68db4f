/**
 * Runs and diagnostics as text: for a terminal, as JSON, JUnit XML, SARIF, Markdown, notes at lines. Each report escapes its own syntax and every
 * control character that a document may hold.
 */
export { renderAgreement } from "./agreement.ts";
export { renderAnnotations, renderComparisonAnnotations } from "./annotations.ts";
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
export { renderMarkdown, type SketchedSite } from "./markdown.ts";
export { renderComparisonPage, renderRunPage, renderSheetHtml } from "./page/index.ts";
export { lightsOfVerdict, renderPicture } from "./picture/index.ts";
export { renderComparisonSarif, renderSarif } from "./sarif.ts";
export { renderSheetMarkdown } from "./sheet-markdown.ts";
export { NO_VERDICT, renderAlone, renderChanges, renderTerminal, type TerminalOptions } from "./terminal.ts";
export { INK, type Ink, NO_INK, wrapLines } from "./text.ts";
export { renderTimeline } from "./timeline.ts";
export { renderTimelineJson } from "./timeline-json.ts";
export { renderTimelineMarkdown } from "./timeline-markdown.ts";
export { renderTrace } from "./trace.ts";
