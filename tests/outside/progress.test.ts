/** The line about long work: patient, seldom, gone at the end, and for terminals alone. */
import { describe, expect, it } from "vitest";
import { progressOn } from "../../src/outside/index.ts";

/** What is written to a screen while steps are made at these milliseconds. */
function written(isTerminal: boolean, stepsMs: readonly number[]): readonly string[] {
  const texts: string[] = [];
  let nowMs = 0;
  const progress = progressOn({ isTerminal, write: (text) => texts.push(text), nowMs: () => nowMs });
  for (const [index, atMs] of stepsMs.entries()) {
    nowMs = atMs;
    progress.step(() => `${index + 1} done`);
  }
  progress.end();
  return texts;
}

const CLEAR = "\r\u001b[K";

describe("progress", () => {
  it("says nothing in the first second, then at most ten times a second, and takes the line away", () => {
    expect(written(true, [200, 999, 1000, 1050, 1101])).toEqual([`${CLEAR}3 done`, `${CLEAR}5 done`, CLEAR]);
  });

  it("writes nothing at all about short work", () => {
    expect(written(true, [10, 900])).toEqual([]);
  });

  it("writes nothing where nobody watches", () => {
    expect(written(false, [1000, 5000])).toEqual([]);
  });
});
