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

  needs("xmllint").it("is well-formed for another parser", () => {
    const { status, stderr } = spawnSync("xmllint", ["--noout", "-"], {
      input: renderJunit(everything),
      encoding: "utf8",
    });
    expect({ status, stderr }).toEqual({ status: 0, stderr: "" });
  });
});
