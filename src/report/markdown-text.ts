/**
 * Text in Markdown: what stands in a document cannot leave its place.
 */
import { oneLine } from "./text.ts";

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
