/**
 * `check [FILES]`: loads every site meant, judges its assertions, reports.
 */
import { type CheckResult, checkAssertions } from "../check/index.ts";
import { type Diagnostic, nearestWord } from "../diagnose/index.ts";
import { EnginesDisagree, Evaluation, type ProverMaker } from "../evaluate/index.ts";
import { toErrors } from "../outside/index.ts";
import {
  type Ink,
  renderJson,
  renderJunit,
  renderMarkdown,
  renderTerminal,
  type TerminalOptions,
} from "../report/index.ts";
import { exitStatusOf, type Mending, type Run, statusOf, type Verdict } from "../result/index.ts";
import { type LoadedSite, loadSite, type Shelf } from "./load-site.ts";
import { deliver, type OutputOptions, outputProblem } from "./output.ts";
import { type SitePlace, sitesMeant } from "./places.ts";
import { refuse } from "./refuse.ts";
import { VERSION } from "./version.ts";

/** Formats of its report. */
const FORMATS = ["terminal", "json", "junit", "markdown"] as const;
/** One of them. */
export type CheckFormat = (typeof FORMATS)[number];

/** Options of `check`. */
export type CheckOptions = OutputOptions<CheckFormat> & {
  /** Tell all of what holds, too. */
  readonly verbose: boolean;
  /** Names of the only assertions to judge; empty: all. */
  readonly only: readonly string[];
  /** Skip what comes after the first that does not pass. */
  readonly bail: boolean;
  /** Looks for repairs of what does not hold. Default: nobody looks. */
  readonly mend?: Mender;
};

/** Looks for repairs of one site; files that it reads go to the shelf. */
export type Mender = (place: SitePlace, verdicts: readonly Verdict[], shelf: Shelf) => readonly Mending[];

/** Runs the command; answers with the exit status. `proverMaker`: for tests that plant a wrong proof. */
export function runCheck(paths: readonly string[], options: CheckOptions, proverMaker?: ProverMaker): number {
  const problem = outputProblem(options, FORMATS);
  if (problem !== undefined) return refuse(problem);
  const places = sitesMeant(paths);
  const wrong = places.find((place) => "problem" in place);
  if (wrong !== undefined && "problem" in wrong) return refuse(`${wrong.problem}\n   ${wrong.help}`);
  const shelf: Shelf = { sources: [] };
  const meant = places.flatMap((place) => ("problem" in place ? [] : [place]));
  const sites = meant.map((place) => loadSite(place, shelf));
  const blank = blankRun(sites, shelf);
  if (isWrong(blank.diagnostics)) return report(blank, options);
  const unasked = whatIsUnasked(sites, options);
  if (unasked !== undefined) return refuse(unasked);
  for (const site of sites) if (titlesOf(site).length === 0) toErrors(`\`${site.name}\` has no assertions\n`);
  return report(withMendings(runOf(sites, options, blank, proverMaker), meant, shelf, options), options);
}

/** Adds repairs where they are asked for and something does not hold. */
function withMendings(run: Run, places: readonly SitePlace[], shelf: Shelf, { mend }: CheckOptions): Run {
  if (mend === undefined || statusOf(run) === "fault" || statusOf(run) === "invalid") return run;
  try {
    const mendings = places.flatMap((place) => {
      const own = run.verdicts.filter(({ site, status }) => site === place.name && isBroken(status));
      return own.length === 0 ? [] : mend(place, own, shelf);
    });
    return { ...run, mendings };
  } catch (error) {
    if (error instanceof EnginesDisagree) return { ...run, fault: error.message };
    throw error;
  }
}

function isBroken(status: Verdict["status"]): boolean {
  return status === "failed" || status === "vacuous";
}

function report(run: Run, options: CheckOptions): number {
  const { diagnostics, sources } = run;
  const render = (format: CheckFormat, ink: Ink): string => renderRun(run, format, { ink, verbose: options.verbose });
  return deliver({ diagnostics, sources, status: exitStatusOf(run), render }, options);
}

function renderRun(run: Run, format: CheckFormat, options: TerminalOptions): string {
  switch (format) {
    case "json":
      return renderJson(run);
    case "junit":
      return renderJunit(run);
    case "markdown":
      return renderMarkdown(run);
    case "terminal": {
      const isUnasked = run.verdicts.length === 0 && run.fault === undefined;
      return isUnasked ? "" : renderTerminal(run, options);
    }
  }
}

function isWrong(diagnostics: readonly Diagnostic[]): boolean {
  return diagnostics.some(({ severity }) => severity === "error");
}

function titlesOf(site: LoadedSite): readonly string[] {
  return site.assertions.flatMap(({ document }) => document.assertions.map(({ name }) => name.value));
}

/** Why there is nothing to judge; undefined: there is something. */
function whatIsUnasked(sites: readonly LoadedSite[], { only }: CheckOptions): string | undefined {
  const titles = sites.flatMap(titlesOf);
  if (titles.length === 0) {
    const names = sites.map((site) => `\`${site.name}\``).join(", ");
    const folders = sites.map((site) => `\`assertions/${site.name}\``).join(" or ");
    return `no assertions for ${names}\n   write some in ${folders}`;
  }
  const unknown = only.find((name) => !titles.includes(name));
  if (unknown === undefined) return undefined;
  const nearest = nearestWord(unknown, titles);
  return `no assertion is called \`${unknown}\`${nearest === undefined ? "" : `\n   try \`${nearest}\``}`;
}

function blankRun(sites: readonly LoadedSite[], { sources }: Shelf): Run {
  const diagnostics = sites.flatMap((site) => site.diagnostics);
  return { command: "check", version: VERSION, sources, diagnostics, verdicts: [], assumptions: [] };
}

/** Judges all sites. */
function runOf(sites: readonly LoadedSite[], options: CheckOptions, blank: Run, proverMaker?: ProverMaker): Run {
  try {
    const results = judged(sites, options, proverMaker);
    const diagnostics = [...blank.diagnostics, ...results.flatMap((each) => each.diagnostics)];
    if (isWrong(diagnostics)) return { ...blank, diagnostics };
    const verdicts = results.flatMap((each) => each.verdicts);
    const assumptions = [...new Set(verdicts.flatMap((verdict) => verdict.assumptions))];
    return { ...blank, diagnostics, verdicts, assumptions };
  } catch (error) {
    if (error instanceof EnginesDisagree) return { ...blank, fault: error.message };
    throw error;
  }
}

function judged(
  sites: readonly LoadedSite[],
  { only, bail }: CheckOptions,
  proverMaker: ProverMaker | undefined,
): readonly CheckResult[] {
  const results: CheckResult[] = [];
  for (const { name, network, assertions } of sites) {
    if (network === undefined) throw new Error(`${name} has no network and no error`);
    const evaluation = new Evaluation(network, proverMaker);
    for (const { path, document } of assertions) {
      const isOver = bail && results.some(({ verdicts }) => verdicts.some(hasEnded));
      const asked = isOver ? { only: [] } : only.length > 0 ? { only } : {};
      results.push(checkAssertions({ document, file: path, site: name, evaluation, bail, ...asked }));
    }
  }
  return results;
}

function hasEnded({ status }: Verdict): boolean {
  return status !== "passed" && status !== "skipped";
}
