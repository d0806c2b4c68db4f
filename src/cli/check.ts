/**
 * `check [FILES]`: loads every site meant, judges its assertions, reports.
 */
import { hasErrors, nearestWord } from "../diagnose/index.ts";
import { EnginesDisagree, type ProverMaker } from "../evaluate/index.ts";
import { toErrors } from "../outside/index.ts";
import {
  type Ink,
  renderAnnotations,
  renderJson,
  renderJunit,
  renderMarkdown,
  renderSarif,
  renderTerminal,
  type SketchedSite,
  type TerminalOptions,
} from "../report/index.ts";
import { exitStatusOf, type Mending, type Run, statusOf, type Verdict } from "../result/index.ts";
import { siteGraph } from "../site/index.ts";
import { type JudgedSite, type Judging, judgeSites } from "./judge.ts";
import { type LoadedSite, loadSite, type Shelf } from "./load-site.ts";
import { deliver, type OutputOptions, outputProblem } from "./output.ts";
import { type SitePlace, sitesMeant } from "./places.ts";
import { refuse } from "./refuse.ts";
import { VERSION } from "./version.ts";

/** Formats of its report. */
const FORMATS = ["terminal", "json", "junit", "sarif", "annotations", "markdown"] as const;
/** One of them. */
export type CheckFormat = (typeof FORMATS)[number];

/** Options of `check`. */
export type CheckOptions = OutputOptions<CheckFormat> &
  Judging & {
    /** Tell all of what holds, too. */
    readonly verbose: boolean;
    /** Looks for repairs of what does not hold. Default: nobody looks. */
    readonly mend?: Mender;
  };

/** Looks for repairs of one site, of which this does not hold; files that it reads go to the shelf. `workers`: as in `Judging`. */
export type Mender = (
  place: SitePlace,
  judged: JudgedSite,
  broken: readonly Verdict[],
  shelf: Shelf,
  workers: number | undefined,
) => Promise<readonly Mending[]>;

/** Runs the command; answers with the exit status. `proverMaker`: for tests that plant a wrong proof. */
export async function runCheck(
  paths: readonly string[],
  options: CheckOptions,
  proverMaker?: ProverMaker,
): Promise<number> {
  const problem = outputProblem(options, FORMATS);
  if (problem !== undefined) return refuse(problem);
  const places = sitesMeant(paths);
  const wrong = places.find((place) => "problem" in place);
  if (wrong !== undefined && "problem" in wrong) return refuse(`${wrong.problem}\n   ${wrong.help}`);
  const shelf: Shelf = { sources: [] };
  const meant = places.flatMap((place) => ("problem" in place ? [] : [place]));
  const sites = meant.map((place) => loadSite(place, shelf));
  const blank = blankRun(sites, shelf);
  if (hasErrors(blank.diagnostics)) return report(blank, [], options);
  const unasked = whatIsUnasked(sites, options);
  if (unasked !== undefined) return refuse(unasked);
  for (const site of sites) if (titlesOf(site).length === 0) toErrors(`\`${site.name}\` has no assertions\n`);
  let run = blank;
  try {
    const judged = await judgeSites(sites, options, proverMaker);
    run = runOf(judged, blank);
    run = await withMendings(run, judged, meant, shelf, options);
  } catch (error) {
    if (!(error instanceof EnginesDisagree)) throw error;
    run = { ...run, fault: error.message };
  }
  return report(run, await sketchedSites(sites, options), options);
}

/** Sites for the one format that sketches them. */
async function sketchedSites(sites: readonly LoadedSite[], { format }: CheckOptions): Promise<readonly SketchedSite[]> {
  if (!format.includes("markdown")) return [];
  const known = sites.flatMap(({ name, site }) => (site === undefined ? [] : [{ name, site }]));
  return Promise.all(known.map(async ({ name, site }) => ({ name, graph: await siteGraph(site) })));
}

/** Adds repairs where they are asked for and something does not hold. @throws EnginesDisagree */
async function withMendings(
  run: Run,
  judged: readonly JudgedSite[],
  places: readonly SitePlace[],
  shelf: Shelf,
  { mend, workers }: CheckOptions,
): Promise<Run> {
  if (mend === undefined || statusOf(run) === "invalid") return run;
  const mendings: Mending[] = [];
  for (const [index, place] of places.entries()) {
    const here = judged[index];
    if (here === undefined) throw new Error(`${place.name} was not judged`);
    const broken = here.results
      .flatMap(({ verdicts }) => verdicts)
      .filter(({ status, breaks, recovery }) => isBroken(status) && breaks === undefined && recovery === undefined);
    if (broken.length > 0) mendings.push(...(await mend(place, here, broken, shelf, workers)));
  }
  return { ...run, mendings };
}

function isBroken(status: Verdict["status"]): boolean {
  return status === "failed" || status === "vacuous";
}

function report(run: Run, sites: readonly SketchedSite[], options: CheckOptions): number {
  const { diagnostics, sources } = run;
  const render = (format: CheckFormat, ink: Ink): string =>
    renderRun(run, sites, format, { ink, verbose: options.verbose });
  return deliver({ diagnostics, sources, status: exitStatusOf(run), render }, options);
}

function renderRun(run: Run, sites: readonly SketchedSite[], format: CheckFormat, options: TerminalOptions): string {
  switch (format) {
    case "json":
      return renderJson(run);
    case "junit":
      return renderJunit(run);
    case "sarif":
      return renderSarif(run);
    case "annotations":
      return renderAnnotations(run);
    case "markdown":
      return renderMarkdown(run, sites);
    case "terminal": {
      const isUnasked = run.verdicts.length === 0 && run.fault === undefined;
      return isUnasked ? "" : renderTerminal(run, options);
    }
  }
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

/** What the sites came to. */
function runOf(judged: readonly JudgedSite[], blank: Run): Run {
  const results = judged.flatMap((each) => each.results);
  const diagnostics = [...blank.diagnostics, ...results.flatMap((each) => each.diagnostics)];
  if (hasErrors(diagnostics)) return { ...blank, diagnostics };
  const verdicts = results.flatMap((each) => each.verdicts);
  const assumptions = [...new Set(verdicts.flatMap((verdict) => verdict.assumptions))];
  return { ...blank, diagnostics, verdicts, assumptions };
}
