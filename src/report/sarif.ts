/**
 * Findings as a SARIF log (OASIS, version 2.1.0), which viewers and code hosts read: a result for each assertion that does
 * not hold, at the line that decided, with the way of its packet; a result for each diagnostic. What holds is left out.
 *
 * Guarantees: the log is valid against the published schema, and a result keeps its fingerprint while lines move.
 */
import { type Diagnostic, locate, type SourceFile } from "../diagnose/index.ts";
import {
  type Comparison,
  comparisonStatus,
  type Difference,
  exitStatusOf,
  fallsShort,
  packetLines,
  type Run,
  type Told,
  tellDifference,
  type Verdict,
} from "../result/index.ts";
import { tellDecision } from "./comparison.ts";
import { tellPlace } from "./excerpt.ts";
import {
  LEVELS,
  locationOf,
  messageOf,
  ROOT,
  rulesOf,
  type SarifLevel,
  type SarifLocation,
  type SarifMessage,
} from "./sarif-text.ts";
import { WORDS } from "./terminal.ts";

type Step = { readonly location: SarifLocation };

/** A result (3.27). */
type SarifResult = {
  readonly ruleId: string;
  readonly kind: "fail" | "open";
  readonly level: SarifLevel;
  readonly message: SarifMessage;
  readonly locations: readonly SarifLocation[];
  readonly relatedLocations?: readonly SarifLocation[];
  readonly codeFlows?: readonly { readonly threadFlows: readonly { readonly locations: readonly Step[] }[] }[];
  readonly partialFingerprints: Readonly<Record<string, string>>;
};

/** What a log is made of. */
type Findings = {
  readonly version: string;
  /** What tells its results from those of other logs (3.17.2). */
  readonly category: string;
  readonly exitCode: number;
  readonly results: readonly SarifResult[];
  readonly fault?: string | undefined;
};

const SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";

/** A run as a log, ending in a newline. */
export function renderSarif(run: Run): string {
  const { version, command, fault, sources } = run;
  const results = [
    ...diagnosticResults(run.diagnostics, sources),
    ...run.verdicts.filter(fallsShort).map((each) => verdictResult(each, sources)),
  ];
  return logOf({ version, category: command, exitCode: exitStatusOf(run), results, fault });
}

/** A comparison as a log: a result for each difference, at the line that decides after the change. */
export function renderComparisonSarif(comparison: Comparison): string {
  const { version, fault, sources } = comparison;
  const results = [
    ...diagnosticResults(comparison.diagnostics, sources),
    ...comparison.differences.map((each) => differenceResult(each, comparison)),
  ];
  return logOf({
    version,
    category: `compare/${comparison.site}`,
    exitCode: comparisonStatus(comparison),
    results,
    fault,
  });
}

/** Exit statuses that say nothing against the tool (3.20.14): wrong input and faults do. */
function isSuccessful(exitCode: number): boolean {
  return exitCode !== 2 && exitCode !== 3;
}

function logOf({ version, category, exitCode, results, fault }: Findings): string {
  const rules = rulesOf(results.map(({ ruleId }) => ruleId));
  const indexes = new Map(rules.map(({ id }, index) => [id, index]));
  const run = {
    tool: { driver: { name: "dryrack", version, rules } },
    automationDetails: { id: `dryrack/${category}/` },
    columnKind: "utf16CodeUnits",
    originalUriBaseIds: { [ROOT]: { description: { text: "the folder of the repository" } } },
    invocations: [
      {
        executionSuccessful: isSuccessful(exitCode),
        exitCode,
        ...(fault === undefined
          ? {}
          : { toolExecutionNotifications: [{ level: "error", message: messageOf(...fault.split("\n")) }] }),
      },
    ],
    results: results.map(({ ruleId, ...rest }) => ({ ruleId, ruleIndex: indexes.get(ruleId), ...rest })),
  };
  return `${JSON.stringify({ version: "2.1.0", $schema: SCHEMA, runs: [run] }, null, 2)}\n`;
}

/** Diagnostics of one code and message in a file are told apart by their number. */
function diagnosticResults(diagnostics: readonly Diagnostic[], sources: readonly SourceFile[]): readonly SarifResult[] {
  const counts = new Map<string, number>();
  return diagnostics.map((diagnostic) => {
    const { code, severity, message, labels, notes, help } = diagnostic;
    const [primary, ...others] = labels.map(({ span, text }) => locationOf(locate(sources, span), text));
    const key = `${labels[0] === undefined ? "" : locate(sources, labels[0].span).file}#${code}#${message}`;
    const count = (counts.get(key) ?? 0) + 1;
    counts.set(key, count);
    return {
      ruleId: code,
      kind: "fail",
      // Only what fails has a level (3.27.10); a note is a failure of that level.
      level: LEVELS[severity],
      message: messageOf(message, ...notes, ...(help === undefined ? [] : [help])),
      locations: primary === undefined ? [] : [primary],
      ...relatedTo(others),
      partialFingerprints: { "diagnostic/v1": count === 1 ? key : `${key}#${count}` },
    };
  });
}

function verdictResult(verdict: Verdict, sources: readonly SourceFile[]): SarifResult {
  const { id, kind, status, name, headline, decidedBy, witness, path, help, repeat, at } = verdict;
  const [first, ...others] = decidedBy;
  const assertion = locate(sources, at);
  const primary =
    first === undefined ? locationOf(assertion) : locationOf(locate(sources, first.origin.span), first.text);
  return {
    ruleId: kind,
    kind: status === "undecided" ? "open" : "fail",
    level: status === "undecided" ? "none" : "error",
    message: messageOf(
      `${WORDS[status]}: ${name}`,
      headline,
      ...(witness === undefined ? [] : packetLines(witness)),
      ...(help === "" ? [] : [help]),
      ...(repeat === undefined ? [] : [`again: ${repeat}`]),
    ),
    locations: [primary],
    ...relatedTo([
      ...(first === undefined ? [] : [locationOf(assertion, "the assertion")]),
      ...others.map(({ origin, text }) => locationOf(locate(sources, origin.span), text)),
      ...stepsOf(path, sources),
    ]),
    ...flowOf(path, sources),
    partialFingerprints: { "assertion/v1": id },
  };
}

/** Of lines before the change nothing can be shown in the files after it: they are told in words. */
function differenceResult(difference: Difference, { site, sources, failOn }: Comparison): SarifResult {
  const { id, change, notes, decidedBy, witness, path } = difference;
  const [first, ...later] = decidedBy.filter(({ side }) => side === "head");
  const before = decidedBy.filter(({ side }) => side === "base");
  const grade = change === "newly-allowed" ? "warning" : "note";
  const steps = change === "newly-allowed" ? path : [];
  return {
    ruleId: change,
    kind: "fail",
    level: failOn.includes(change) ? "error" : grade,
    message: messageOf(
      tellDifference(difference),
      ...notes,
      ...before.map((each) => `${tellDecision(each)} (${tellPlace(locate(sources, each.origin.span))})`),
      ...(witness === undefined ? [] : packetLines(witness)),
      ...(steps.length > 0 ? [] : path.map(({ device, text }, index) => `${index + 1} ${device} ${text}`)),
    ),
    locations: first === undefined ? [] : [locationOf(locate(sources, first.origin.span), tellDecision(first))],
    ...relatedTo([
      ...later.map((each) => locationOf(locate(sources, each.origin.span), tellDecision(each))),
      ...stepsOf(steps, sources),
    ]),
    ...flowOf(steps, sources),
    partialFingerprints: { "difference/v1": `${site}#${id}` },
  };
}

function stepsOf(path: readonly Told[], sources: readonly SourceFile[]): readonly SarifLocation[] {
  return path.map(({ device, text, origin }, index) =>
    locationOf(locate(sources, origin.span), `${index + 1} ${device} ${text}`),
  );
}

/** Numbered from 1, so that a reader may refer to them (3.28.2). */
function relatedTo(locations: readonly SarifLocation[]): Pick<SarifResult, "relatedLocations"> {
  return locations.length === 0
    ? {}
    : { relatedLocations: locations.map((each, index) => ({ id: index + 1, ...each })) };
}

/** The way of a packet, step by step (3.36). */
function flowOf(path: readonly Told[], sources: readonly SourceFile[]): Pick<SarifResult, "codeFlows"> {
  if (path.length === 0) return {};
  const locations = stepsOf(path, sources).map((location) => ({ location }));
  return { codeFlows: [{ threadFlows: [{ locations }] }] };
}
