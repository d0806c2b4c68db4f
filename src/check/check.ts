/**
 * Judges the assertions of one file on one network, in document order.
 */
import { type Diagnostic, hasErrors } from "../diagnose/index.ts";
import type { Assertion, AssertionsDocument } from "../document/index.ts";
import type { Evaluation, Footprint } from "../evaluate/index.ts";
import { idOf } from "../network/index.ts";
import { fallsShort, namesOf, shellWord, type Verdict } from "../result/index.ts";
import { adviceFor } from "./advice.ts";
import type { CheckContext, Finding } from "./context.ts";
import { endFaults } from "./ends.ts";
import { equalDefaultsIn } from "./equal-defaults.ts";
import { checkLease } from "./lease.ts";
import { placesOf } from "./places.ts";
import { checkPolicy, checkReach } from "./reach.ts";
import { type CheckResult, type Earlier, type Judged, Recollection, UNTOLD } from "./recollection.ts";
import { recoveryOf } from "./recovery.ts";
import { unknownReferences } from "./references.ts";
import { checkResolves } from "./resolves.ts";
import { checkSegment } from "./segment.ts";
import { withAskedBefore, withoutAskedBefore } from "./short-pools.ts";
import { survivalFinding } from "./survival.ts";
import { type Survival, type Survivor, Sweep } from "./sweep.ts";

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
  /** Is told of each assertion that was judged, and of each failure that they were tried under. Default: nobody is. */
  readonly onStep?: (step: "judged" | "tried") => void;
  /** What the same file came to before an edit: what rests on nothing that changed is taken over. Default: all is asked. */
  readonly earlier?: Earlier;
};

/** Judges every assertion of a file; with a wrong name anywhere nothing is judged. @throws EnginesDisagree */
export function checkAssertions(request: CheckRequest): CheckResult {
  const diagnostics = namingFaults(request.document, request.evaluation);
  if (hasErrors(diagnostics)) return { ...NOTHING, diagnostics };
  return { ...judgeAssertions(request), diagnostics };
}

/** What is wrong with the names in a file. */
export function namingFaults({ assertions }: AssertionsDocument, evaluation: Evaluation): readonly Diagnostic[] {
  return assertions.flatMap((assertion) => faultsOf(assertion, evaluation));
}

function faultsOf(assertion: Assertion, evaluation: Evaluation): readonly Diagnostic[] {
  return [...endFaults(assertion, evaluation), ...unknownReferences(assertion, evaluation.network)];
}

type JudgedFile = Omit<CheckResult, "diagnostics">;

/** Judges every assertion of a file in which no name is wrong. @throws EnginesDisagree */
export function judgeAssertions(request: CheckRequest): JudgedFile {
  const { sweep, finish } = beginAssertions(request);
  return finish(sweep.all(() => request.onStep?.("tried")));
}

/** A file whose assertions were judged on the whole site. */
export type BegunFile = {
  /** Those that hold and must survive failures. */
  readonly sweep: Sweep;
  /** All verdicts, with what became of those under all failures. @throws EnginesDisagree */
  readonly finish: (survivals: readonly Survival[]) => JudgedFile;
};

/** Judges a file on the whole site; whoever asks tries the failures, perhaps elsewhere. @throws EnginesDisagree */
export function beginAssertions(request: CheckRequest): BegunFile {
  const { evaluation, document, file, site } = request;
  const context: CheckContext = { evaluation, names: namesOf(evaluation.network), site, file };
  const recollection = new Recollection(request.earlier);
  const verdicts: Verdict[] = [];
  const footprints: Footprint[] = [];
  for (const assertion of document.assertions) {
    const skip = isSkipped(assertion, request, verdicts);
    const [verdict, footprint] = skip
      ? [verdictOf(assertion, SKIPPED, context), UNTOLD]
      : (recollection.of(assertion) ?? judged(assertion, context));
    verdicts.push(skip ? verdict : withAskedBefore(verdict, footprint, evaluation));
    footprints.push(footprint);
    request.onStep?.("judged");
  }
  const judgedOnce = { verdicts, footprints, reused: recollection.reused };
  const asked = survivorsIn(judgedOnce, document);
  return {
    sweep: new Sweep(asked, context, judge),
    finish: (survivals) =>
      recovered(survived(judgedOnce, asked, survivals, request, context), judgedOnce, request, context),
  };
}

type Asked = Survivor & { readonly verdict: Verdict; readonly index: number };

/** Assertions that hold on the whole site and must survive something. */
function survivorsIn(result: JudgedFile, { assertions }: AssertionsDocument): readonly Asked[] {
  return assertions.flatMap((assertion, index) => {
    const [verdict, footprint] = [result.verdicts[index], result.footprints[index]];
    const { survives } = assertion;
    if (survives === undefined || footprint === undefined || verdict?.status !== "passed") return [];
    return [{ assertion, survives, footprint, verdict, index }];
  });
}

/** The same with what becomes of those that must come back from dark; with `bail` nothing behind one that does not. */
function recovered(
  result: JudgedFile,
  { footprints: looked }: JudgedFile,
  { document, bail }: CheckRequest,
  context: CheckContext,
): JudgedFile {
  const verdicts = [...result.verdicts];
  const footprints = [...result.footprints];
  for (const [index, assertion] of document.assertions.entries()) {
    const [verdict, footprint] = [verdicts[index], looked[index]];
    if (assertion.recovers === undefined || footprint === undefined || verdict?.status !== "passed") continue;
    const { repeat: _, ...held } = verdict;
    const found = verdictOf(assertion, recoveryOf({ assertion, footprint, held }, context, judge), context);
    // What came back in every order of starting rests on none.
    verdicts[index] = found.status === "passed" ? withoutAskedBefore(found) : found;
    footprints[index] = UNTOLD;
    if (bail === true && verdicts[index].status !== "passed") break;
  }
  return { ...result, verdicts: bail === true ? bailed(verdicts, document, context) : verdicts, footprints };
}

/** The same with what becomes of those that must survive failures; with `bail` nothing behind one that does not. */
function survived(
  result: JudgedFile,
  asked: readonly Asked[],
  survivals: readonly Survival[],
  { document, bail }: CheckRequest,
  context: CheckContext,
): JudgedFile {
  if (asked.length === 0) return result;
  const { evaluation } = context;
  const verdicts = [...result.verdicts];
  const footprints = [...result.footprints];
  for (const [place, survivor] of asked.entries()) {
    const survival = survivals[place];
    if (survival === undefined) throw new Error(`${survivals.length} survivals of ${asked.length} assertions`);
    const { repeat: _, ...held } = survivor.verdict;
    verdicts[survivor.index] = verdictOf(
      survivor.assertion,
      survivalFinding(held, survival, survivor, evaluation.network),
      context,
    );
    footprints[survivor.index] = UNTOLD;
  }
  return { ...result, verdicts: bail === true ? bailed(verdicts, document, context) : verdicts, footprints };
}

function bailed(
  verdicts: readonly Verdict[],
  { assertions }: AssertionsDocument,
  context: CheckContext,
): readonly Verdict[] {
  const last = verdicts.findIndex(fallsShort);
  return verdicts.map((verdict, index) => {
    const assertion = assertions[index];
    return last < 0 || index <= last || assertion === undefined ? verdict : verdictOf(assertion, SKIPPED, context);
  });
}

const NOTHING: CheckResult = { verdicts: [], diagnostics: [], footprints: [], reused: 0 };

/** A verdict with what it rests on. */
function judged(assertion: Assertion, context: CheckContext): Judged {
  const [finding, footprint] = found(assertion, context);
  const verdict = verdictOf(assertion, finding, context);
  const taken = equalDefaultsIn(footprint, context.evaluation);
  return [taken.length === 0 ? verdict : { ...verdict, assumptions: [...verdict.assumptions, ...taken] }, footprint];
}

function found(assertion: Assertion, context: CheckContext): readonly [Finding, Footprint] {
  const { evaluation } = context;
  const [finding, footprint] = evaluation.tracing(() => judge(assertion, context));
  evaluation.looks?.named(footprint, evaluation.worlds().worlds);
  if (assertion.kind === "segment") evaluation.looks?.spread([idOf(assertion.segment.network.value)]);
  // What nothing was asked of rests on who stands there.
  if (footprint.ups.size === 0) footprint.ups.set("", []);
  footprint.reasons ||= finding.status !== "passed";
  // What nobody can tell may be told after any edit.
  footprint.everything ||= finding.status === "undecided";
  return [finding, footprint];
}

const SKIPPED: Finding = { status: "skipped", by: "simulation", headline: "not asked", decidedBy: [] };

function isSkipped(assertion: Assertion, { only, bail }: CheckRequest, before: readonly Verdict[]): boolean {
  if (only !== undefined && !only.includes(assertion.name.value)) return true;
  return bail === true && before.some(fallsShort);
}

function judge(assertion: Assertion, context: CheckContext): Finding {
  switch (assertion.kind) {
    case "reach":
      return checkReach(assertion, context);
    case "policy":
      return checkPolicy(assertion, context);
    case "resolves":
      return checkResolves(assertion, context);
    case "lease":
      return checkLease(assertion, context);
    case "segment":
      return checkSegment(assertion, context);
  }
}

/** How one assertion ends, and what that rests on. */
export type Ending = Pick<Verdict, "status"> & {
  /** What was looked at. */
  readonly footprint: Footprint;
};

/** Judges one assertion; nobody can tell of what it names that is not there. @throws EnginesDisagree */
export function judgeOne(assertion: Assertion, evaluation: Evaluation): Ending {
  if (hasErrors(faultsOf(assertion, evaluation))) return { status: "undecided", footprint: UNTOLD };
  const context: CheckContext = { evaluation, names: namesOf(evaluation.network), site: "", file: "" };
  const [{ status }, footprint] = found(assertion, context);
  return { status, footprint };
}

function verdictOf(assertion: Assertion, finding: Finding, context: CheckContext): Verdict {
  return {
    id: `${context.file}#${assertion.name.value}`,
    kind: assertion.kind === "reach" ? assertion.expect.value : assertion.kind,
    name: assertion.name.value,
    ...(assertion.note === undefined ? {} : { note: assertion.note.value }),
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
    ...(fallsShort(finding) ? { repeat: repeatCommand(assertion, context) } : {}),
  };
}

/** The command that shows the failure again. */
function repeatCommand(assertion: Assertion, { file }: CheckContext): string {
  return `dryrack check ${shellWord(file)} --only ${shellWord(assertion.name.value)}`;
}
