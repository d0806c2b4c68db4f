/**
 * Which lines of a site's files a change touches: those of the base that went, those of the head that came. A file is
 * known by its path inside the site's folder; one that is on one side only is touched as a whole.
 */
import { diffArrays } from "diff";
import { lineStartsOf, lineText, locate, type Origin, type SourceFile, type Span } from "../diagnose/index.ts";

/** The files of one side: index in the run's list by path inside the site's folder. */
export type SideFiles = ReadonlyMap<string, number>;

/** Lines that a change touches. */
export type TouchedLines = {
  /** Whether an origin's own span has one, or a use of a role or set that it was reached by. */
  readonly concerns: (origin: Origin) => boolean;
  /** Touched lines with words on them, as spans, in the order of files, the head's first. */
  readonly spans: readonly { readonly side: "base" | "head"; readonly span: Span }[];
};

/** Compares the files of both sides. */
export function touchedLines(base: SideFiles, head: SideFiles, sources: readonly SourceFile[]): TouchedLines {
  const byFile = new Map<number, ReadonlySet<number>>();
  for (const path of new Set([...head.keys(), ...base.keys()])) {
    const [before, after] = [base.get(path), head.get(path)];
    const { gone, come } = linesBetween(linesOf(before, sources), linesOf(after, sources));
    if (before !== undefined) byFile.set(before, gone);
    if (after !== undefined) byFile.set(after, come);
  }
  const has = (span: Span): boolean => {
    const touched = byFile.get(span.file);
    if (touched === undefined || touched.size === 0) return false;
    const last = Math.max(span.start, span.end - 1);
    const { line, endLine } = locate(sources, { ...span, end: last });
    for (let at = line; at <= endLine; at++) if (touched.has(at)) return true;
    return false;
  };
  const spansFrom = (side: "base" | "head", files: SideFiles): TouchedLines["spans"] =>
    [...files.values()].flatMap((file) =>
      spansOf(file, byFile.get(file) ?? new Set(), sources).map((span) => ({ side, span })),
    );
  return {
    concerns: ({ span, through = [] }) => [span, ...through].some(has),
    spans: [...spansFrom("head", head), ...spansFrom("base", base)],
  };
}

/** Lines as places count them, from 1; none where there is no such file. */
function linesOf(file: number | undefined, sources: readonly SourceFile[]): readonly string[] {
  const text = file === undefined ? undefined : sources[file]?.text;
  if (text === undefined) return [];
  const starts = lineStartsOf(text);
  return starts.map((_, index) => lineText(text, starts, index + 1));
}

function linesBetween(
  before: readonly string[],
  after: readonly string[],
): { readonly gone: ReadonlySet<number>; readonly come: ReadonlySet<number> } {
  const [gone, come] = [new Set<number>(), new Set<number>()];
  let [old, now] = [1, 1];
  for (const { added, removed, count } of diffArrays([...before], [...after])) {
    if (removed) for (let line = 0; line < count; line++) gone.add(old + line);
    if (added) for (let line = 0; line < count; line++) come.add(now + line);
    if (!added) old += count;
    if (!removed) now += count;
  }
  return { gone, come };
}

/** Lines that say something, from their first letter to their last. */
function spansOf(file: number, lines: ReadonlySet<number>, sources: readonly SourceFile[]): readonly Span[] {
  const starts = lineStartsOf(sources[file]?.text ?? "");
  return linesOf(file, sources).flatMap((text, index): Span[] => {
    const words = text.replace(/(?:^|\s)#.*$/, "").trim();
    if (!lines.has(index + 1) || words === "") return [];
    const start = (starts[index] ?? 0) + text.indexOf(words);
    return [{ file, start, end: start + words.length }];
  });
}
