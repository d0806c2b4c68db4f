/**
 * Judges the assertions of one file on one network, in document order.
 */
import type { Diagnostic } from "../diagnose/index.ts";
import type { Assertion, AssertionsDocument } from "../document/index.ts";
import type { Evaluation } from "../evaluate/index.ts";
import { namesOf, shellWord, type Verdict } from "../result/index.ts";
import { adviceFor } from "./advice.ts";
import type { CheckContext, Finding } from "./context.ts";
import { endFaults } from "./ends.ts";
import { checkLease } from "./lease.ts";
import { placesOf } from "./places.ts";
import { checkPolicy, checkReach } from "./reach.ts";
import { unknownReferences } from "./references.ts";
import { checkSegment } from "./segment.ts";

/** What a file of assertions is judged against. */
export type CheckRequest = {
  /** The assertions, in document order. */
  readonly document: AssertionsDocument;
  /** Path of the file, for ids. */
  readonly file: string;
  /** Name of the site. */
  readonly site: string;
  /** The network they are judged on. */
  readonly evaluation: Evaluation;
  /** Only assertions whose name is listed; absent: all. */
  readonly only?: readonly string[];
  /** Skip all after the first that does not pass. */
  readonly bail?: boolean;
};

/** Verdicts in document order, or what is wrong with the file. */
export type CheckResult = {
  /** One an assertion, in document order; empty when a diagnostic is an error. */
  readonly verdicts: readonly Verdict[];
  /** Names that nothing in the network carries. */
  readonly diagnostics: readonly Diagnostic[];
};

/** Judges every assertion of a file; with a wrong name anywhere nothing is judged. @throws EnginesDisagree */
export function checkAssertions(request: CheckRequest): CheckResult {
  const { evaluation, document, file, site } = request;
  const { network } = evaluation;
  const diagnostics = document.assertions.flatMap((assertion) => [
    ...endFaults(assertion, evaluation),
    ...unknownReferences(assertion, network),
  ]);
  if (diagnostics.some((diagnostic) => diagnostic.severity === "error")) return { verdicts: [], diagnostics };
  const context: CheckContext = { evaluation, names: namesOf(network), site, file };
  const verdicts: Verdict[] = [];
  for (const assertion of document.assertions) {
    const skip = isSkipped(assertion, request, verdicts);
    verdicts.push(verdictOf(assertion, skip ? SKIPPED : judge(assertion, context), context));
  }
  return { verdicts, diagnostics };
}

const SKIPPED: Finding = { status: "skipped", by: "simulation", headline: "not asked", decidedBy: [] };

function isSkipped(assertion: Assertion, { only, bail }: CheckRequest, before: readonly Verdict[]): boolean {
  if (only !== undefined && !only.includes(assertion.name.value)) return true;
  return bail === true && before.some((verdict) => verdict.status !== "passed" && verdict.status !== "skipped");
}

function judge(assertion: Assertion, context: CheckContext): Finding {
  switch (assertion.kind) {
    case "reach":
      return checkReach(assertion, context);
    case "policy":
      return checkPolicy(assertion, context);
    case "lease":
      return checkLease(assertion, context);
    case "segment":
      return checkSegment(assertion, context);
  }
}

function verdictOf(assertion: Assertion, finding: Finding, context: CheckContext): Verdict {
  const isOver = finding.status === "passed" || finding.status === "skipped";
  return {
    id: `${context.file}#${assertion.name.value}`,
    kind: assertion.kind === "reach" ? assertion.expect.value : assertion.kind,
    name: assertion.name.value,
    site: context.site,
    at: assertion.span,
    help: finding.status === "failed" ? adviceFor(finding.decidedBy, context) : "",
    picks: [],
    path: [],
    restsOn: [],
    assumptions: [],
    cells: [],
    ...finding,
    decidedBy: placesOf(finding.decidedBy),
    ...(isOver ? {} : { repeat: repeatCommand(assertion, context) }),
  };
}

/** The command that shows the failure again. */
function repeatCommand(assertion: Assertion, { file }: CheckContext): string {
  return `dryrack check ${shellWord(file)} --only ${shellWord(assertion.name.value)}`;
}
