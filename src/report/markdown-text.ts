/**
 * Text in Markdown: what stands in a document cannot leave its place.
 */
import type { Diagnostic, SourceFile } from "../diagnose/index.ts";
import { renderDiagnostics } from "./diagnostics.ts";
import { NO_INK, oneLine } from "./text.ts";

/**
 * What sites of review take for a person, an issue, a request, a label or a link, wherever it stands in a text. They look for it
 * in what is rendered, where an escape is gone (from memory), so something that nobody sees is put between. A word between colons
 * becomes a little picture there, `fd00:a::1` loses a group by it; of what can be part of an address these few words do (from memory).
 */
const MENTION =
  /[@#!~%$](?=[\p{L}\p{N}_"])|&amp;(?=[\p{L}\p{N}])|\/(?=\/)|\bwww(?=\.)|:(?=(?:ab?|b|be[de]|100|1234|[\da-f]*[g-z_+-][\w+-]*):)/gu;

/** Text in an element of HTML within Markdown, where Markdown's own escapes mean nothing. */
export function inTag(text: string): string {
  return oneLine(text)
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;")
    .replace(MENTION, "$&<!-- -->");
}

/**
 * Text that Markdown takes for nothing but text (CommonMark 0.31.2; tables and strikethrough as they are common beside it): what
 * means something anywhere is escaped, what means something at the beginning of a line only there.
 */
export function escaped(text: string): string {
  return atStart(inline(oneLine(text).trim()));
}

/** A sentence of ours: what stands in backticks is code, the rest is text. Not for cells of tables, where code may hold a bar. */
export function prose(text: string): string {
  const pieces = oneLine(text)
    .trim()
    .split(/`([^`]+)`/);
  return atStart(pieces.map((piece, index) => (index % 2 === 0 ? inline(piece) : code(piece))).join(""));
}

function inline(text: string): string {
  return text
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replace(/[\\`*[\]|~$]|#$|(?<![\p{L}\p{N}])_|_(?![\p{L}\p{N}])/gu, "\\$&")
    .replace(MENTION, "$&<!-- -->");
}

function atStart(text: string): string {
  return text
    .replace(/^(?:>|#{1,6}(?=\s|$)|[-+](?=[-\s]|$)|=+$)/, "\\$&")
    .replace(/^(\d{1,9})([.)])(?=\s|$)/, "$1\\$2");
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
