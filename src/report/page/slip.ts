/**
 * A slip of paper with the line that decided: file and line, the YAML around it, the piece marked, and what it did.
 */
import { lineStartsOf, locate, type Origin, type SourceFile, type Span } from "../../diagnose/index.ts";
import type { Evidence } from "../../result/index.ts";
import { oneLine, visible } from "../text.ts";
import { element, fragment, type Html, prose } from "./html.ts";

/** A line longer than this is cut around what is marked. */
const WIDEST = 240;

/** The slip of a deciding line; `word` says which of several it is, such as `before`. */
export function slip({ origin, text }: Evidence, sources: readonly SourceFile[], word?: string): Html {
  const { span } = origin;
  const place = element("span", { class: "place" }, tellPlace(span, sources));
  const said = [text, ...reasonsOf(origin, text)].join(": ");
  return element(
    "figure",
    { class: "slip" },
    element("figcaption", {}, word === undefined ? undefined : element("strong", {}, `${word} `), place),
    element("pre", { translate: "no" }, element("code", {}, excerpt(span, sources))),
    element("p", {}, prose(oneLine(said))),
  );
}

/** `intent.yaml, line 34`. */
export function tellPlace(span: Span, sources: readonly SourceFile[]): string {
  const { file, line } = locate(sources, span);
  return `${oneLine(file)}, line ${line}`;
}

/** What cannot be seen in the line itself: the default that it stands for, or what is missing there. */
function reasonsOf(origin: Origin, text: string): readonly string[] {
  if (origin.by === "default") return [`by default, ${origin.rule} (${origin.source})`];
  return origin.by === "absent" && !text.includes(origin.wanted) ? [`${origin.wanted} is missing`] : [];
}

/** The first line of a span with the one above it, for the eye to find the place. */
function excerpt(span: Span, sources: readonly SourceFile[]): Html {
  const text = sources[span.file]?.text ?? "";
  const starts = lineStartsOf(text);
  const line = Math.max(
    0,
    starts.findLastIndex((start) => start <= span.start),
  );
  const start = starts[line] ?? 0;
  const next = starts[line + 1];
  const end = next === undefined ? text.length : next - 1;
  const above = line === 0 ? "" : text.slice(starts[line - 1] ?? 0, start - 1);
  const to = Math.min(span.end, end);
  const before = text.slice(start, span.start);
  const marked = text.slice(span.start, to).trimEnd().slice(0, WIDEST);
  const after = text.slice(span.start + marked.length, end).trimEnd();
  const indent = Math.min(...[before + marked, above].filter((line) => line.trim() !== "").map(indentOf));
  const cut = Math.max(0, before.length + marked.length - WIDEST);
  const written = marked === "" ? element("mark", { class: "gap" }, " ") : element("mark", {}, marked);
  return fragment(
    above.trim() === ""
      ? undefined
      : element("span", { class: "above" }, `${clip(visible(above.trimEnd().slice(indent)))}\n`),
    cut > 0 ? `…${before.slice(cut)}` : before.slice(indent),
    written,
    clip(after),
  );
}

/** How many blanks a line begins with. */
export function indentOf(line: string): number {
  return line.length - line.trimStart().length;
}

function clip(text: string): string {
  return text.length > WIDEST ? `${text.slice(0, WIDEST)}…` : text;
}
