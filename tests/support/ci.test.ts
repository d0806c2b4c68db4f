/** `.ci/run` and the tests agree on the system's tools and on README's commands. */
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { DEBIAN_PACKAGES } from "./needs.ts";

type TestFile = { name: string; status: string; assertionResults: { status: string; fullName: string }[] };

const passing = testFile(["passed", "passed"]);

function testFile(statuses: readonly string[]): TestFile {
  const status = statuses.every((each) => each !== "failed") ? "passed" : "failed";
  return {
    name: "a.test.ts",
    status,
    assertionResults: statuses.map((each) => ({ status: each, fullName: "a test" })),
  };
}

/** Runs the count over test files, or over a report that is not there; returns its closing line and status. */
function count(files: readonly TestFile[] | undefined, failedSteps: readonly string[] = []) {
  const folder = mkdtempSync(join(tmpdir(), "dryrack-count-"));
  const report = join(folder, "tests.json");
  const tests = files?.flatMap((file) => file.assertionResults) ?? [];
  const numPassedTests = tests.filter(({ status }) => status === "passed").length;
  if (files) writeFileSync(report, JSON.stringify({ numPassedTests, testResults: files }));
  const { stdout, status } = spawnSync(process.execPath, [".ci/count.mjs", report, ...failedSteps], {
    encoding: "utf8",
  });
  rmSync(folder, { recursive: true });
  return [stdout.trimEnd().split("\n").at(-1), status];
}

describe(".ci/run", () => {
  const script = readFileSync(".ci/run", "utf8");

  it("installs every package that a test may ask for", () => {
    const listed = /^packages=\((.*)\)$/m.exec(script)?.[1]?.split(" ");
    expect(listed).toEqual([...new Set(Object.values(DEBIAN_PACKAGES))].sort());
  });

  it("finds README's two commands, each complete on a fresh clone", () => {
    const blocks = [...readFileSync("README.md", "utf8").matchAll(/^```sh\n(.*?)^```$/gms)].map(([, text]) => text);
    expect(blocks.slice(0, 2)).toEqual(["npm ci && npm run demo\n", "npm ci && npm test\n"]);
  });
});

describe("the closing line", () => {
  it("counts passed tests", () => {
    expect(count([passing])).toEqual(["2 passed, 0 failed", 0]);
  });

  it("counts a failed and a skipped test as failed", () => {
    expect(count([testFile(["passed", "failed", "skipped", "todo"])])).toEqual(["1 passed, 3 failed", 1]);
  });

  it("counts a test file that could not be read", () => {
    expect(count([passing, { name: "b.test.ts", status: "failed", assertionResults: [] }])).toEqual([
      "2 passed, 1 failed",
      1,
    ]);
  });

  it("counts a failed step, and the tests' own step only where no test says why", () => {
    expect(count([passing], ["lint", "build"])).toEqual(["2 passed, 2 failed", 1]);
    expect(count([passing], ["README: tests"])).toEqual(["2 passed, 1 failed", 1]);
    expect(count([testFile(["failed"])], ["README: tests"])).toEqual(["0 passed, 1 failed", 1]);
  });

  it("fails where no test ran at all", () => {
    expect(count([])).toEqual(["0 passed, 1 failed", 1]);
    expect(count(undefined)).toEqual(["0 passed, 1 failed", 1]);
  });
});
