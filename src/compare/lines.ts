/**
 * Which lines of a site's files a change touches: those of the base that went, those of the head that came. A file is
 * known by its path inside the site's folder; one that is on one side only is touched as a whole.
 */
import { diffArrays } from "diff";
import type { Origin, SourceFile, Span } from "../diagnose/index.ts";

/** The files of one side: index in the run's list by path inside the site's folder. */
export type SideFiles = ReadonlyMap<string, number>;

/** Lines that a change touches. */
export type TouchedLines = {
  /** Whether a span has a touched line. */
  readonly has: (span: Span) => boolean;
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
  const has = ({ file, start, end }: Span): boolean => {
    const touched = byFile.get(file);
    const text = sources[file]?.text;
    if (touched === undefined || text === undefined || touched.size === 0) return false;
    const [first, last] = [lineAt(text, start), lineAt(text, Math.max(start, end - 1))];
    for (let line = first; line <= last; line++) if (touched.has(line)) return true;
    return false;
  };
  const spansFrom = (side: "base" | "head", files: SideFiles): TouchedLines["spans"] =>
    [...files.values()].flatMap((file) =>
      spansOf(file, byFile.get(file) ?? new Set(), sources).map((span) => ({ side, span })),
    );
  return {
    has,
    concerns: ({ span, through = [] }) => [span, ...through].some(has),
    spans: [...spansFrom("head", head), ...spansFrom("base", base)],
  };
}

function linesOf(file: number | undefined, sources: readonly SourceFile[]): readonly string[] {
  return file === undefined ? [] : (sources[file]?.text.split("\n") ?? []);
}

function linesBetween(
  before: readonly string[],
  after: readonly string[],
): { readonly gone: ReadonlySet<number>; readonly come: ReadonlySet<number> } {
  const [gone, come] = [new Set<number>(), new Set<number>()];
  let [old, now] = [0, 0];
  for (const { added, removed, count } of diffArrays([...before], [...after])) {
    if (removed) for (let line = 0; line < count; line++) gone.add(old + line);
    if (added) for (let line = 0; line < count; line++) come.add(now + line);
    if (!added) old += count;
    if (!removed) now += count;
  }
  return { gone, come };
}

function lineAt(text: string, offset: number): number {
  let line = 0;
  for (let at = text.indexOf("\n"); at >= 0 && at < offset; at = text.indexOf("\n", at + 1)) line++;
  return line;
}

/** Lines that say something, from their first letter to their last. */
function spansOf(file: number, lines: ReadonlySet<number>, sources: readonly SourceFile[]): readonly Span[] {
  const spans: Span[] = [];
  let start = 0;
  for (const [line, text] of linesOf(file, sources).entries()) {
    const words = text.replace(/(?:^|\s)#.*$/, "").trim();
    const first = start + text.indexOf(words);
    if (lines.has(line) && words !== "") spans.push({ file, start: first, end: first + words.length });
    start += text.length + 1;
  }
  return spans;
}
