import { spawnSync } from "node:child_process";
import { describe, expect, test } from "vitest";
import { renderJunit } from "../../src/report/index.ts";
import { needs } from "../support/needs.ts";
import { HOSTILE, run, spanOf, verdict } from "./runs.ts";

const everything = run(
  [
    verdict("holds", "passed"),
    verdict(HOSTILE, "failed"),
    verdict("empty", "vacuous"),
    verdict("open", "undecided"),
    verdict("later", "skipped"),
  ],
  {
    diagnostics: [
      {
        code: "unknown-name",
        severity: "error",
        message: HOSTILE,
        labels: [{ span: spanOf("gate"), text: "", primary: true }],
        notes: [],
      },
    ],
  },
);

/** By another parser and the published schema (`published/ORIGIN.md`). */
function judged(input: string): { readonly status: number | null; readonly stderr: string } {
  const words = ["--noout", "--schema", "tests/report/published/junit-4.xsd", "-"];
  const { status, stderr } = spawnSync("xmllint", words, { input, encoding: "utf8" });
  return { status, stderr };
}

describe("the report as JUnit XML", () => {
  test("counts everything that does not hold as a failure, and wrong input as an error", () => {
    const text = renderJunit(everything);
    expect(text).toContain('<testsuite name="quay" tests="5" failures="3" errors="0" skipped="1">');
    expect(text).toContain('<testsuite name="input" tests="1" failures="0" errors="1" skipped="0">');
  });

  test("escapes markup and replaces what XML cannot hold", () => {
    const text = renderJunit(everything);
    expect(text).toContain("&lt;b&gt;&quot;&amp;");
    expect(/(?![\t\n\r])\p{Cc}/u.test(text)).toBe(false);
  });

  needs("xmllint").it.each([
    ["a run of everything", everything],
    ["an empty run", run([])],
    ["a fault", run([], { fault: HOSTILE })],
  ])("is valid against the schema that CI servers use: %s", (_name, told) => {
    expect(judged(renderJunit(told))).toEqual({ status: 0, stderr: "- validates\n" });
  });

  needs("xmllint").it("is refused by that schema with an attribute that it does not know", () => {
    expect(judged(renderJunit(everything).replace("<testcase ", '<testcase line="2" '))).toMatchObject({ status: 3 });
  });
});
