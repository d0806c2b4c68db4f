/**
 * The demo keeps all that it promises, and every promise is broken by at least one slip of the pen, which is then blamed.
 */
import { readdirSync, readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { checkAssertions } from "../../src/check/index.ts";
import type { SourceFile } from "../../src/diagnose/index.ts";
import { loadDocument } from "../../src/document/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import type { Verdict } from "../../src/result/index.ts";
import { networkOf } from "../support/site.ts";
import { SLIPS, type Slip } from "./demo-edits.ts";

const PLAN = "topologies/tidewater-radio";
const PROMISES = "assertions/tidewater-radio";

function filesOf(folder: string): readonly SourceFile[] {
  return readdirSync(folder)
    .sort()
    .map((path) => ({ path, text: readFileSync(`${folder}/${path}`, "utf8") }));
}

type Judged = { readonly verdicts: readonly Verdict[]; readonly files: readonly SourceFile[] };

/** The demo judged; under a slip only the assertion that it breaks. */
function judgedUnder(slip?: Slip): Judged {
  const files = filesOf(PLAN).map(({ path, text }) => ({
    path,
    text: slip?.file === path ? changed(text, slip) : text,
  }));
  const evaluation = new Evaluation(networkOf(...files.map(({ text }) => text)));
  const only = slip === undefined ? {} : { only: [slip.assertion] };
  const verdicts = filesOf(PROMISES).flatMap((file) => {
    const { document } = loadDocument(file, files.length);
    // Stories are replayed in storylines.test.ts.
    if (document?.kind === "storyline") return [];
    if (document?.kind !== "assertions") throw new Error(`${file.path} holds no assertions`);
    return checkAssertions({ document, file: file.path, site: "demo", evaluation, ...only }).verdicts;
  });
  return { verdicts: verdicts.filter(({ status }) => status !== "skipped"), files };
}

function changed(text: string, { find, replace }: Slip): string {
  placeOf(find, text);
  return text.replace(find, () => replace);
}

/** Where a piece stands that must stand there once. */
function placeOf(piece: string, text: string): { readonly start: number; readonly end: number } {
  const start = text.indexOf(piece);
  if (start < 0 || text.includes(piece, start + 1)) throw new Error(`not exactly once: ${piece}`);
  return { start, end: start + piece.length };
}

/** What the first deciding place of a verdict says, and whether it touches what the slip must be blamed by. */
function blameOf({ decidedBy: [first] }: Verdict, slip: Slip, files: readonly SourceFile[]): [boolean, string] {
  if (first === undefined) return [false, "nothing is blamed"];
  const { file, start, end } = first.origin.span;
  const { path, text } = files[file] ?? { path: PROMISES, text: "" };
  if (path !== (slip.blamesIn ?? slip.file)) return [false, path];
  const meant = placeOf(slip.blames ?? slip.replace, text);
  return [start < meant.end && meant.start < end, text.slice(start, end)];
}

describe("the demo", () => {
  const { verdicts } = judgedUnder();

  test("keeps at least thirty promises", () => {
    expect(verdicts.filter(({ status }) => status !== "passed").map(({ headline }) => headline)).toEqual([]);
    expect(verdicts.length).toBeGreaterThanOrEqual(30);
  });

  test("has a slip for each of them", () => {
    expect(SLIPS.map(({ assertion }) => assertion).sort()).toEqual(verdicts.map(({ name }) => name).sort());
  });

  test.each(SLIPS)("does not keep that $assertion when $slip", (slip) => {
    const broken = judgedUnder(slip);
    const [verdict] = broken.verdicts;
    if (verdict === undefined) throw new Error(`there is no assertion ${slip.assertion}`);
    expect(verdict.status, verdict.headline).toBe("failed");
    const [isSaid, blamed] = blameOf(verdict, slip, broken.files);
    expect(isSaid, `${verdict.headline}; blamed: ${blamed}`).toBe(true);
  });
});
