/**
 * `check [FILES]`: loads every site meant, judges its assertions, reports.
 */
import { runOf } from "../check/index.ts";
import { hasErrors } from "../diagnose/index.ts";
import { EnginesDisagree, type ProverMaker } from "../evaluate/index.ts";
import { type LoadedSite, loadSite, type Shelf, type SitePlace, sitesMeant } from "../load/index.ts";
import { toErrors } from "../outside/index.ts";
import {
  type Ink,
  renderAnnotations,
  renderJson,
  renderJunit,
  renderMarkdown,
  renderRunPage,
  renderSarif,
  renderTerminal,
  type SketchedSite,
  type TerminalOptions,
} from "../report/index.ts";
import { exitStatusOf, type Mending, type Run, statusOf, type Verdict } from "../result/index.ts";
import { siteGraph } from "../site/index.ts";
import { judgeStories, type Stories, storiesOf } from "./check-stories.ts";
import { type JudgedSite, type Judging, judgeSites } from "./judge.ts";
import { deliver, type OutputOptions, outputProblem } from "./output.ts";
import { refuse } from "./refuse.ts";
import { titlesOf, whatIsUnasked } from "./unasked.ts";
import { VERSION } from "./version.ts";

/** Formats of its report. */
const FORMATS = ["terminal", "json", "junit", "sarif", "annotations", "markdown", "html"] as const;
/** One of them. */
export type CheckFormat = (typeof FORMATS)[number];

/** Options of `check`. */
export type CheckOptions = OutputOptions<CheckFormat> &
  Omit<Judging, "facts"> & {
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
  const loaded = blankRun(sites, shelf);
  if (hasErrors(loaded.diagnostics)) return report(loaded, [], options);
  const stories = storiesIn(meant, sites, shelf);
  const blank: Run = { ...loaded, diagnostics: [...loaded.diagnostics, ...stories.diagnostics] };
  if (hasErrors(blank.diagnostics)) return report(blank, [], options);
  const played = options.only.length > 0 ? [] : stories.named;
  const unasked = played.length > 0 ? undefined : whatIsUnasked(sites, options.only);
  if (unasked !== undefined) return refuse(unasked);
  if (played.length === 0)
    for (const site of sites) if (titlesOf(site).length === 0) toErrors(`\`${site.name}\` has no assertions\n`);
  let run = blank;
  try {
    const facts = factsFor(options.format);
    const judged = await judgeSites(sites, { ...options, facts }, proverMaker);
    const results = judged.flatMap((each) => each.results);
    const told = judged.flatMap((each) => each.facts ?? []);
    run = withVerdicts(runOf(results, blank), judgeStories(played));
    if (told.length > 0 && !hasErrors(run.diagnostics)) run = { ...run, sites: told };
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

/** What the reports tell of a site beside its verdicts. */
function factsFor(formats: readonly CheckFormat[]): Judging["facts"] {
  if (formats.includes("html")) return "pictures";
  return formats.includes("json") ? "plain" : "none";
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

function report(run: Run, sites: readonly SketchedSite[], options: CheckOptions): Promise<number> {
  const { diagnostics, sources } = run;
  const render = (format: CheckFormat, ink: Ink): string | Promise<string> =>
    renderRun(run, sites, format, { ink, verbose: options.verbose });
  return deliver({ diagnostics, sources, status: exitStatusOf(run), render }, options);
}

function renderRun(
  run: Run,
  sites: readonly SketchedSite[],
  format: CheckFormat,
  options: TerminalOptions,
): string | Promise<string> {
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
    case "html":
      return renderRunPage(run);
    case "terminal": {
      const isUnasked = run.verdicts.length === 0 && run.fault === undefined;
      return isUnasked ? "" : renderTerminal(run, options);
    }
  }
}

function storiesIn(places: readonly SitePlace[], sites: readonly LoadedSite[], shelf: Shelf): Stories {
  const found = places.flatMap((place, index) => {
    const site = sites[index];
    return site === undefined || site.storylines.length === 0 ? [] : [storiesOf(place, site, shelf)];
  });
  return { named: found.flatMap(({ named }) => named), diagnostics: found.flatMap(({ diagnostics }) => diagnostics) };
}

function withVerdicts(run: Run, more: readonly Verdict[]): Run {
  if (more.length === 0 || hasErrors(run.diagnostics)) return run;
  const assumptions = [...new Set([...run.assumptions, ...more.flatMap((verdict) => verdict.assumptions)])];
  return { ...run, verdicts: [...run.verdicts, ...more], assumptions };
}

function blankRun(sites: readonly LoadedSite[], { sources }: Shelf): Run {
  const diagnostics = sites.flatMap((site) => site.diagnostics);
  return { command: "check", version: VERSION, sources, diagnostics, verdicts: [], assumptions: [] };
}
