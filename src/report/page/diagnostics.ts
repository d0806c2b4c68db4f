/**
 * What was found wrong in the documents, each with its place and what to do.
 */
import type { Diagnostic, SourceFile } from "../../diagnose/index.ts";
import { oneLine } from "../text.ts";
import { element, fragment, type Html, prose } from "./html.ts";
import { slip } from "./slip.ts";

/** All of them, errors first; nothing: there are none. */
export function diagnosticsOf(diagnostics: readonly Diagnostic[], sources: readonly SourceFile[]): Html | undefined {
  if (diagnostics.length === 0) return undefined;
  const order = ["error", "warning", "note"] as const;
  const sorted = order.flatMap((severity) => diagnostics.filter((each) => each.severity === severity));
  return fragment(sorted.map((each) => diagnosticOf(each, sources)));
}

function diagnosticOf(diagnostic: Diagnostic, sources: readonly SourceFile[]): Html {
  const { severity, message, code, labels, notes, help } = diagnostic;
  const lines = [...labels].sort((a, b) => Number(b.primary) - Number(a.primary));
  return element(
    "div",
    { class: `diagnostic ${severity}` },
    element("p", {}, element("strong", {}, severity), " ", prose(oneLine(message)), ` (${code})`),
    lines.map(({ span, text }) => slip({ origin: { by: "written", span }, text }, sources)),
    notes.map((note) => element("p", { class: "aside" }, prose(oneLine(note)))),
    help === undefined ? undefined : element("p", { class: "help" }, prose(oneLine(help))),
  );
}
