/**
 * A run as JUnit XML: one suite a site, one case an assertion. Undecided and vacuous count as failures, as does wrong
 * input (an error of its own suite), so that a CI system that only reads this file is never told that all is well.
 */
import { type Diagnostic, locate, type SourceFile } from "../diagnose/index.ts";
import type { Run, Verdict } from "../result/index.ts";
import { tellPlace } from "./excerpt.ts";
import { escapeXml } from "./xml.ts";

/** The run as XML text, ending in a newline. */
export function renderJunit(run: Run): string {
  const sites = [...new Set(run.verdicts.map((verdict) => verdict.site))];
  const suites = [
    ...sites.map((site) =>
      suiteOf(
        site,
        run.verdicts.filter((verdict) => verdict.site === site),
        run.sources,
      ),
    ),
    ...inputSuite(run),
  ];
  return `<?xml version="1.0" encoding="UTF-8"?>\n<testsuites name="dryrack">\n${suites.join("")}</testsuites>\n`;
}

type Tally = { readonly tests: number; readonly failures: number; readonly errors: number; readonly skipped: number };

function suite(name: string, tally: Tally, cases: readonly string[]): string {
  const counts = Object.entries(tally).map(([key, count]) => `${key}="${count}"`);
  return `  <testsuite name="${escapeXml(name)}" ${counts.join(" ")}>\n${cases.join("")}  </testsuite>\n`;
}

function suiteOf(site: string, verdicts: readonly Verdict[], sources: readonly SourceFile[]): string {
  const skipped = verdicts.filter((verdict) => verdict.status === "skipped").length;
  const passed = verdicts.filter((verdict) => verdict.status === "passed").length;
  const tally = { tests: verdicts.length, failures: verdicts.length - skipped - passed, errors: 0, skipped };
  return suite(
    site,
    tally,
    verdicts.map((verdict) => caseOf(verdict, sources)),
  );
}

function caseOf(verdict: Verdict, sources: readonly SourceFile[]): string {
  const open = `    <testcase name="${escapeXml(verdict.name)}" classname="${escapeXml(`${verdict.site}.${verdict.kind}`)}"`;
  if (verdict.status === "passed") return `${open}/>\n`;
  if (verdict.status === "skipped") return `${open}><skipped/></testcase>\n`;
  const text = [
    verdict.headline,
    `the assertion stands in ${tellPlace(locate(sources, verdict.at))}`,
    ...verdict.decidedBy.map((each) => `${tellPlace(locate(sources, each.origin.span))}: ${each.text}`),
    ...verdict.path.map((step, index) => `${index + 1} ${step.device} ${step.text}`),
    ...(verdict.repeat === undefined ? [] : [`again: ${verdict.repeat}`]),
  ].join("\n");
  return `${open}><failure type="${verdict.status}" message="${escapeXml(verdict.headline)}">${escapeXml(text)}</failure></testcase>\n`;
}

/** Errors of the input and faults of the tool. */
function inputSuite(run: Run): string[] {
  const errors = run.diagnostics.filter((diagnostic) => diagnostic.severity === "error");
  const cases = errors.map((each) => errorCase(each, run.sources));
  if (run.fault !== undefined)
    cases.push(
      `    <testcase name="fault" classname="dryrack"><error type="fault" message="fault of dryrack">${escapeXml(run.fault)}</error></testcase>\n`,
    );
  if (cases.length === 0) return [];
  return [suite("input", { tests: cases.length, failures: 0, errors: cases.length, skipped: 0 }, cases)];
}

function errorCase(diagnostic: Diagnostic, sources: readonly SourceFile[]): string {
  const [label] = diagnostic.labels;
  const where = label === undefined ? "" : tellPlace(locate(sources, label.span));
  const told = [where, ...diagnostic.notes, ...(diagnostic.help === undefined ? [] : [diagnostic.help])].join("\n");
  const name = escapeXml(`${where} ${diagnostic.code}`.trim());
  return `    <testcase name="${name}" classname="input"><error type="${diagnostic.code}" message="${escapeXml(diagnostic.message)}">${escapeXml(told)}</error></testcase>\n`;
}
