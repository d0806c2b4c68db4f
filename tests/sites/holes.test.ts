/**
 * Ten holes in the demo, one a kind: each breaks its promise, is shown by the smallest packet, and is blamed on the guilty line.
 */
import { readdirSync, readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { checkAssertions } from "../../src/check/index.ts";
import type { SourceFile } from "../../src/diagnose/index.ts";
import { loadDocument } from "../../src/document/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import { oneLine, type Verdict } from "../../src/result/index.ts";
import { networkOf } from "../support/site.ts";
import { HOLES, type Hole } from "./holes.ts";

const PLAN = "topologies/tidewater-radio";
const PROMISES = "assertions/tidewater-radio/isolation.yaml";

type Judged = { readonly verdict: Verdict; readonly files: readonly SourceFile[] };

/** Where a piece stands that must stand there once. */
function placeOf(piece: string, text: string): number {
  const start = text.indexOf(piece);
  if (start < 0 || text.includes(piece, start + 1)) throw new Error(`not exactly once: ${piece}`);
  return start;
}

function filesWith({ edits }: Pick<Hole, "edits">): readonly SourceFile[] {
  return readdirSync(PLAN)
    .sort()
    .map((path) => {
      let text = readFileSync(`${PLAN}/${path}`, "utf8");
      for (const { file, find, replace } of edits) {
        if (file !== path) continue;
        placeOf(find, text);
        text = text.replace(find, () => replace);
      }
      return { path, text };
    });
}

function judged(hole: Hole): Judged {
  const files = filesWith(hole);
  const { document } = loadDocument({ path: PROMISES, text: readFileSync(PROMISES, "utf8") }, files.length);
  if (document?.kind !== "assertions") throw new Error(`${PROMISES} holds no assertions`);
  const evaluation = new Evaluation(networkOf(...files.map(({ text }) => text)));
  const { verdicts } = checkAssertions({ document, file: PROMISES, site: "demo", evaluation, only: [hole.assertion] });
  const verdict = verdicts.find(({ name }) => name === hole.assertion);
  if (verdict === undefined) throw new Error(`there is no promise ${hole.assertion}`);
  return { verdict, files };
}

/** The line, counted from 1, that a place of a file stands on. */
function lineAt(text: string, at: number): number {
  return text.slice(0, at).split("\n").length;
}

describe("ten holes in the demo", () => {
  test("are of ten kinds", () => {
    expect(new Set(HOLES.map(({ kind }) => kind)).size).toBe(10);
  });

  test.each(HOLES)("$kind is found, with the smallest packet and the guilty line", (hole) => {
    const { verdict, files } = judged(hole);
    expect(verdict.status, verdict.headline).toBe("failed");
    expect(verdict.witness === undefined ? "" : oneLine(verdict.witness)).toBe(hole.packet);
    if (hole.beside !== undefined) expect(verdict.decidedBy.map(({ text }) => text)).toContain(hole.beside);
    const [first] = verdict.decidedBy;
    const blamed = files[first?.origin.span.file ?? -1];
    const guilty = files.find(({ path }) => path === hole.guilty.file);
    expect(blamed?.path, first?.text).toBe(guilty?.path);
    const line = lineAt(blamed?.text ?? "", first?.origin.span.start ?? 0);
    expect(line, first?.text).toBe(lineAt(guilty?.text ?? "", placeOf(hole.guilty.text, guilty?.text ?? "")));
  });
});
