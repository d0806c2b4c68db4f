/**
 * A comparison as JSON: the report of every command, format 1, with a result for each difference.
 */
import { locate, type SourceFile } from "../diagnose/index.ts";
import {
  type Comparison,
  comparisonStatus,
  type Decision,
  type Difference,
  tellDifference,
  tellEnds,
} from "../result/index.ts";
import { diagnosticOf, evidenceOf, stepOf } from "./json.ts";
import type { PlacedEvidence } from "./json-evidence.ts";
import type { JsonReport, JsonResult } from "./json-report.ts";

/** The comparison as text, ending in a newline. */
export function renderComparisonJson(comparison: Comparison): string {
  return `${JSON.stringify(toJson(comparison), null, 2)}\n`;
}

const STATUSES = ["passed", "failed", "invalid", "fault", "undecided"] as const;

function toJson(comparison: Comparison): JsonReport {
  const { version, sources, diagnostics, differences, replacements, alongside, undecided, sides, fault } = comparison;
  const results = differences.map((each) => resultOf(each, comparison));
  const count = (wanted: JsonResult["status"]) => results.filter(({ status }) => status === wanted).length;
  return {
    tool: "dryrack",
    format: 1,
    version,
    command: "compare",
    status: STATUSES[comparisonStatus(comparison)],
    counts: {
      passed: count("passed"),
      failed: count("failed"),
      vacuous: 0,
      undecided: undecided.length,
      skipped: 0,
    },
    assumptions: [],
    diagnostics: diagnostics.map((each) => diagnosticOf(each, sources)),
    comparison: {
      ...sides,
      replacements: replacements.map(({ lost, ...replacement }) => ({
        ...replacement,
        lost: lost.map((each) => evidenceOf(each, sources)),
      })),
      alongside,
      undecided,
    },
    results,
    ...(fault === undefined ? {} : { fault }),
  };
}

function resultOf(difference: Difference, { site, sources, failOn }: Comparison): JsonResult {
  const { id, change, decidedBy, witness, path, from, to, services, notes, kind: packets } = difference;
  const [first] = decidedBy;
  return {
    id,
    kind: change,
    name: `${tellEnds(from)} to ${tellEnds(to)}`,
    site,
    status: failOn.includes(change) ? "failed" : "passed",
    by: "proof",
    at: locate(sources, first?.origin.span ?? { file: 0, start: 0, end: 0 }),
    headline: tellDifference(difference),
    decidedBy: decidedBy.map((each) => sidedOf(each, sources)),
    ...(witness === undefined ? {} : { witness }),
    ...(path.length === 0 ? {} : { path: path.map((step) => stepOf(step, sources)) }),
    difference: { from, to, services, packets, notes },
  };
}

function sidedOf(decision: Decision, sources: readonly SourceFile[]): PlacedEvidence {
  return { ...evidenceOf(decision, sources), side: decision.side, changed: decision.changed };
}
