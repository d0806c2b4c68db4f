/**
 * Diagnostics as text: headline with its place, the excerpt, further places, facts, help.
 */
import { type Diagnostic, type DiagnosticCode, type Label, locate, type SourceFile } from "../diagnose/index.ts";
import { excerpt, tellPlace } from "./excerpt.ts";
import { type Ink, oneLine, wrap } from "./text.ts";

/** Diagnostics about a value that must not be shown: they have no excerpt. */
const SECRET: ReadonlySet<DiagnosticCode> = new Set(["secret-refused"]);

/** One diagnostic, several lines, no blank line at the end. */
function renderDiagnostic(diagnostic: Diagnostic, sources: readonly SourceFile[], ink: Ink): string {
  const [primary, ...others] = diagnostic.labels;
  const word = diagnostic.severity === "error" ? "" : `${diagnostic.severity}: `;
  const where = primary === undefined ? "" : `${tellPlace(locate(sources, primary.span))}: `;
  return [
    ink.strong(wrap(`${where}${word}${oneLine(diagnostic.message)} (${diagnostic.code})`, 0, 3)),
    ...(primary === undefined || isBlank(primary, sources) || SECRET.has(diagnostic.code)
      ? []
      : [labelled(primary, sources, ink)]),
    ...others.map((label) => otherPlace(label, sources, ink)),
    ...diagnostic.notes.map((note) => wrap(note, 3)),
    ...(diagnostic.help === undefined ? [] : [wrap(diagnostic.help, 3)]),
  ].join("\n");
}

/** Whether there is nothing to show: the file is empty, or holds blanks only. */
function isBlank({ span, text }: Label, sources: readonly SourceFile[]): boolean {
  return text === "" && sources[span.file]?.text.trim() === "";
}

function labelled(label: Label, sources: readonly SourceFile[], ink: Ink): string {
  const shown = excerpt(sources, label.span, ink);
  return label.text === "" ? shown : `${shown} ${oneLine(label.text)}`;
}

function otherPlace(label: Label, sources: readonly SourceFile[], ink: Ink): string {
  const place = tellPlace(locate(sources, label.span));
  const told = label.text === "" ? place : `${place}: ${label.text}`;
  return `${wrap(told, 3)}\n${excerpt(sources, label.span, ink)}`;
}

/** All diagnostics, errors first, a blank line between them; empty for none. */
export function renderDiagnostics(
  diagnostics: readonly Diagnostic[],
  sources: readonly SourceFile[],
  ink: Ink,
): string {
  const rank = { error: 0, warning: 1, note: 2 };
  const sorted = diagnostics.toSorted((a, b) => rank[a.severity] - rank[b.severity]);
  return sorted.map((each) => renderDiagnostic(each, sources, ink)).join("\n\n");
}
