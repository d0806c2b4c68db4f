/**
 * Text in Markdown: what stands in a document cannot leave its place.
 */
import type { Diagnostic, SourceFile } from "../diagnose/index.ts";
import { renderDiagnostics } from "./diagnostics.ts";
import { NO_INK, oneLine } from "./text.ts";

/** Text that Markdown takes for nothing but text. */
export function escaped(text: string): string {
  return oneLine(text)
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replace(/[\\`*_{}[\]()#+!|~>]/g, "\\$&");
}

/** A piece of code: fenced by more backticks than it holds. */
export function code(text: string): string {
  const plain = oneLine(text);
  const longest = Math.max(0, ...[...plain.matchAll(/`+/g)].map(([run]) => run.length));
  const fence = "`".repeat(longest + 1);
  return longest === 0 ? `${fence}${plain}${fence}` : `${fence} ${plain} ${fence}`;
}

/** Lines of code; `language` is what they are written in. Default: nothing that is known. */
export function block(text: string, language: "" | "diff" = ""): string {
  const lines = text.split("\n").map(oneLine);
  const longest = Math.max(2, ...[...lines.join("\n").matchAll(/`+/g)].map(([run]) => run.length));
  const fence = "`".repeat(longest + 1);
  return [`${fence}${language}`, ...lines, fence].join("\n");
}

/** What is wrong in the documents, as on a terminal. */
export function diagnosticsIn(diagnostics: readonly Diagnostic[], sources: readonly SourceFile[]): string {
  return block(renderDiagnostics(diagnostics, sources, NO_INK));
}
