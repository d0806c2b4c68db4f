/**
 * The closing line of `.ci/run`: `node .ci/count.mjs REPORT.json [FAILED STEP...]`, exit 1 where anything failed.
 * A skipped test counts as failed, as does a test file that could not be read and each failed step but the tests' own,
 * whose failures are counted one by one.
 */
import { readFileSync } from "node:fs";

const [file, ...steps] = process.argv.slice(2);
const TESTS_STEP = "README: tests";

function readReport() {
  try {
    return JSON.parse(readFileSync(file, "utf8"));
  } catch {
    return { numPassedTests: 0, testResults: [] };
  }
}

const { numPassedTests: passed, testResults } = readReport();
const tests = testResults.flatMap((suite) => suite.assertionResults);
const failed = tests.filter(({ status }) => status === "failed").length;
const skipped = tests.filter(({ status }) => status !== "failed" && status !== "passed");
const unread = testResults.filter(
  ({ status, assertionResults }) => status === "failed" && assertionResults.length === 0,
);
for (const { fullName, status } of skipped) console.log(`${status}: ${fullName}`);
for (const { name } of unread) console.log(`could not run: ${name}`);

const counted = failed + skipped.length + unread.length;
const otherSteps = steps.filter((step) => step !== TESTS_STEP).length;
const testsFell = steps.includes(TESTS_STEP) || passed === 0;
const total = otherSteps + (counted === 0 && testsFell ? 1 : counted);
console.log(`${passed} passed, ${total} failed`);
process.exitCode = total > 0 ? 1 : 0;
