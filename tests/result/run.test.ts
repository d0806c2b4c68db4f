import { describe, expect, test } from "vitest";
import type { Diagnostic } from "../../src/diagnose/index.ts";
import { exitStatusOf, statusOf } from "../../src/result/index.ts";
import { run, spanOf, verdict } from "../report/runs.ts";

const wrong: Diagnostic = {
  code: "unknown-name",
  severity: "error",
  message: "",
  labels: [{ span: spanOf("gate"), text: "", primary: true }],
  notes: [],
};

describe("the exit status of a run", () => {
  test.each([
    ["all hold", run([verdict("a", "passed")]), "passed", 0],
    ["one failed", run([verdict("a", "passed"), verdict("b", "failed")]), "failed", 1],
    ["one is vacuous", run([verdict("a", "vacuous")]), "failed", 1],
    ["one is undecided", run([verdict("a", "passed"), verdict("b", "undecided")]), "undecided", 4],
    ["failed outranks undecided", run([verdict("a", "undecided"), verdict("b", "failed")]), "failed", 1],
    ["wrong input outranks failed", run([verdict("a", "failed")], { diagnostics: [wrong] }), "invalid", 2],
    ["a fault outranks wrong input", run([], { diagnostics: [wrong], fault: "ours" }), "fault", 3],
    [
      "a warning does not count",
      run([verdict("a", "passed")], { diagnostics: [{ ...wrong, severity: "warning" }] }),
      "passed",
      0,
    ],
    ["all skipped is wrong input", run([verdict("a", "skipped")]), "invalid", 2],
  ] as const)("%s", (_, given, word, status) => {
    expect([statusOf(given), exitStatusOf(given)]).toEqual([word, status]);
  });
});
