/**
 * Broken plans: each site passes its own assertions; with one mistake the named ones fail, and the first deciding line
 * lies where the mistake is.
 */
import { readdirSync, readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { checkAssertions } from "../../src/check/index.ts";
import type { SourceFile } from "../../src/diagnose/index.ts";
import { loadDocument } from "../../src/document/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import type { Verdict } from "../../src/result/index.ts";
import { networkOf } from "../support/site.ts";
import { BROKEN_PLANS } from "./broken/cases.ts";
import type { BrokenPlan, Edit, Piece } from "./broken/plan.ts";

const folder = new URL("./broken/", import.meta.url);
const sites = readdirSync(new URL("topologies/", folder)).sort();

for (const site of sites) {
  test(`the sound plan of the ${site} passes its assertions`, () => {
    const { verdicts } = checked(site, []);
    expect(verdicts.length).toBeGreaterThan(4);
    expect(verdicts.filter(({ status }) => status !== "passed").map(told)).toEqual([]);
  });
}

describe.each(BROKEN_PLANS)("$name: $wrong", (plan) => {
  const result = once(() => checked(plan.site, plan.edits));
  for (const [name, status] of Object.entries(plan.fails)) {
    test(`${name}: ${status}`, () => {
      const { verdicts, files } = result();
      const verdict = verdicts.find((each) => each.name === name);
      if (verdict === undefined) throw new Error(`there is no assertion ${name}`);
      expect(verdict.status, told(verdict)).toBe(status);
      expect(blamed(verdict, plan, files), `${told(verdict)}; blamed: ${placeOf(verdict, files)}`).toBe(true);
    });
  }
});

type Checked = { readonly verdicts: readonly Verdict[]; readonly files: readonly SourceFile[] };

/** Works a value out when it is first asked for. */
function once<T>(work: () => T): () => T {
  let done: { readonly value: T } | undefined;
  return () => {
    done ??= { value: work() };
    return done.value;
  };
}

function told({ name, status, headline }: Verdict): string {
  return `${name}: ${status}: ${headline}`;
}

/** A site with its texts changed, judged. */
function checked(site: string, edits: readonly Edit[]): Checked {
  const files = filesOf(`topologies/${site}/`).map(({ path, text }) => ({
    path,
    text: edits.filter((edit) => edit.file === path).reduce(edited, text),
  }));
  for (const { file } of edits) expect(files.map(({ path }) => path)).toContain(file);
  const evaluation = new Evaluation(networkOf(...files.map(({ text }) => text)));
  const verdicts = filesOf(`assertions/${site}/`).flatMap((file) => {
    const { document, diagnostics } = loadDocument(file, files.length);
    if (document?.kind !== "assertions") throw new Error(JSON.stringify(diagnostics));
    const result = checkAssertions({ document, file: file.path, site, evaluation });
    expect(result.diagnostics.filter(({ severity }) => severity === "error")).toEqual([]);
    return result.verdicts;
  });
  return { verdicts, files };
}

function filesOf(path: string): SourceFile[] {
  const here = new URL(path, folder);
  return readdirSync(here)
    .sort()
    .map((name) => ({ path: name, text: readFileSync(new URL(name, here), "utf8") }));
}

function edited(text: string, { find, replace }: Edit): string {
  const start = onlyPlace(text, find);
  return text.slice(0, start) + replace + text.slice(start + find.length);
}

/** Where a text stands; it must stand there once. */
function onlyPlace(text: string, piece: string): number {
  const start = text.indexOf(piece);
  if (start < 0 || text.indexOf(piece, start + 1) >= 0) throw new Error(`not exactly once: ${piece}`);
  return start;
}

/** Whether the first deciding line lies in, or touches, a place that is to blame. */
function blamed(verdict: Verdict, { blame }: BrokenPlan, files: readonly SourceFile[]): boolean {
  const span = verdict.decidedBy[0]?.origin.span;
  return (
    span !== undefined &&
    blame.some((piece) => {
      const { file, start, end } = spanOf(piece, files);
      return span.file === file && span.start < end && start < span.end;
    })
  );
}

function spanOf({ file, text }: Piece, files: readonly SourceFile[]): { file: number; start: number; end: number } {
  const index = files.findIndex(({ path }) => path === file);
  const start = onlyPlace(files[index]?.text ?? "", text);
  return { file: index, start, end: start + text.length };
}

/** The blamed place as text, for the message of a failing test. */
function placeOf(verdict: Verdict, files: readonly SourceFile[]): string {
  const evidence = verdict.decidedBy[0];
  if (evidence === undefined) return "nothing is blamed";
  const { file, start, end } = evidence.origin.span;
  const { path, text } = files[file] ?? { path: "", text: "" };
  return `${path}:${text.slice(0, start).split("\n").length} ${text.slice(start, end)}`;
}
