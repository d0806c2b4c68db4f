/**
 * Diagnostics: what is wrong with what a person wrote, as data. A `Span` says where something stands, an
 * `Origin` why an entry of the description exists, a `Diagnostic` what is wrong and what to do about it.
 * Nothing here renders or throws; line and column are worked out by `locate` when a place is shown.
 *
 * ```ts
 * diagnosticAt("bad-vlan", span, "`4095` is no VLAN number", { notes: ["VLAN numbers are 1 to 4094"] })
 * ```
 */
export { carried, isAlike } from "./alike.ts";
export type { CodeEntry, DiagnosticCode, Severity } from "./codes.ts";
export { CODES, isDiagnosticCode, severityOf } from "./codes.ts";
export { type Diagnostic, hasErrors, type Label } from "./diagnostic.ts";
export type { LineStarts } from "./locate.ts";
export { lineStartsOf, lineText, locate, placeAt } from "./locate.ts";
export type { DiagnosticDetails } from "./make.ts";
export { diagnosticAt } from "./make.ts";
export { ANYWHERE, commonEnds, type Moves, movesBetween, UNMOVED } from "./moves.ts";
export { editDistance, nearestWord } from "./nearest.ts";
export type { Origin } from "./origin.ts";
export { isSameSpan, type Place, type SourceFile, type Span } from "./span.ts";
