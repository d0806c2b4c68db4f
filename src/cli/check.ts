/**
 * `check [FILES]`: loads every site meant, judges its assertions, reports.
 */
import { runOf } from "../check/index.ts";
import { hasErrors } from "../diagnose/index.ts";
import { EnginesDisagree, type ProverMaker } from "../evaluate/index.ts";
import { type LoadedSite, loadFiles, readSite, type Shelf, type SitePlace, sitesMeant } from "../load/index.ts";
import { progressOn, toErrors } from "../outside/index.ts";
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
import {
  blankCheck,
  exitStatusOf,
  type Mending,
  type Part,
  type Run,
  type Shard,
  statusOf,
  type Verdict,
} from "../result/index.ts";
import { siteGraph } from "../site/index.ts";
import { judgeStories, type Stories, storiesOf } from "./check-stories.ts";
import { type JudgedSite, type Judging, judgeSites } from "./judge.ts";
import { deliver, type OutputOptions, outputProblem } from "./output.ts";
import { refuse } from "./refuse.ts";
import { cutTo, tellPart, withAllNames } from "./shard.ts";
import { titlesOf, whatIsUnasked } from "./unasked.ts";
import { VERSION } from "./version.ts";

/** Formats of its report. */
export const CHECK_FORMATS = ["terminal", "json", "junit", "sarif", "annotations", "markdown", "html"] as const;
/** One of them. */
export type CheckFormat = (typeof CHECK_FORMATS)[number];

/** How the report of a run is asked for. */
export type ReportOptions = OutputOptions<CheckFormat> & {
  /** Tell all of what holds, too. */
  readonly verbose: boolean;
};

/** Options of `check`. */
export type CheckOptions = ReportOptions &
  Omit<Judging, "facts"> & {
    /** Judge this part of all assertions. Default: all of them. */
    readonly shard?: Part;
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
  const problem = outputProblem(options, CHECK_FORMATS) ?? shardProblem(options);
  if (problem !== undefined) return refuse(problem);
  const places = sitesMeant(paths);
  const wrong = places.find((place) => "problem" in place);
  if (wrong !== undefined && "problem" in wrong) return refuse(`${wrong.problem}\n   ${wrong.help}`);
  const shelf: Shelf = { sources: [] };
  const meant = places.flatMap((place) => ("problem" in place ? [] : [place]));
  const read = meant.map(readSite);
  const sites = read.map((files) => loadFiles(files, shelf));
  const ofSites = shelf.sources.length;
  const shard = options.shard && { ...options.shard, ...(options.only.length > 0 ? { only: options.only } : {}) };
  const part = (): Pick<Run, "shard"> =>
    shard === undefined ? {} : { shard: { ...shard, sites: read, more: shelf.sources.slice(ofSites), looks: [] } };
  const loaded = { ...blankRun(sites, shelf), ...part() };
  if (hasErrors(loaded.diagnostics)) return reportRun(loaded, [], options);
  const stories = storiesIn(meant, sites, shelf);
  const blank: Run = { ...loaded, diagnostics: [...loaded.diagnostics, ...stories.diagnostics], ...part() };
  if (hasErrors(blank.diagnostics)) return reportRun(blank, sites, options);
  const played = options.only.length > 0 ? [] : stories.named;
  if (played.length > 0 && shard !== undefined) return refuse(UNSPLIT);
  const unasked = played.length > 0 ? undefined : whatIsUnasked(sites, options.only);
  if (unasked !== undefined) return refuse(unasked);
  if (played.length === 0)
    for (const site of sites) if (titlesOf(site).length === 0) toErrors(`\`${site.name}\` has no assertions\n`);
  if (shard !== undefined) toErrors(`${tellPart(sites, shard)}\n`);
  let run = blank;
  try {
    const facts = shard === undefined ? factsFor(options.format) : "plain";
    const cut = shard === undefined ? sites : cutTo(sites, shard);
    const progress = progressOn();
    const judged = await judgeSites(cut, { ...options, facts, progress }, proverMaker).finally(progress.end);
    const results = judged.flatMap((each) => each.results);
    run = runOf(shard === undefined ? results : withAllNames(results, sites), blank);
    run = withVerdicts(run, judgeStories(played));
    run = { ...run, ...(run.shard === undefined ? factsAmong(judged, run) : { shard: looked(run.shard, judged) }) };
    run = await withMendings(run, judged, meant, shelf, options);
  } catch (error) {
    if (!(error instanceof EnginesDisagree)) throw error;
    run = { ...run, fault: error.message };
  }
  return reportRun(run, sites, options);
}

/** Sites for the one format that sketches them. */
async function sketchedSites(
  sites: readonly LoadedSite[],
  { format }: ReportOptions,
): Promise<readonly SketchedSite[]> {
  if (!format.includes("markdown")) return [];
  const known = sites.flatMap(({ name, site }) => (site === undefined ? [] : [{ name, site }]));
  return Promise.all(known.map(async ({ name, site }) => ({ name, graph: await siteGraph(site) })));
}

/** What these formats tell of a site beside its verdicts. */
export function factsFor(formats: readonly CheckFormat[]): Judging["facts"] {
  if (formats.includes("html")) return "pictures";
  return formats.includes("json") ? "plain" : "none";
}

function factsAmong(judged: readonly JudgedSite[], { diagnostics }: Run): Pick<Run, "sites"> {
  const sites = judged.flatMap(({ facts }) => facts ?? []);
  return sites.length === 0 || hasErrors(diagnostics) ? {} : { sites };
}

/** Facts of a site are told of all parts together: a part says what it looked at. */
function looked(shard: Shard, judged: readonly JudgedSite[]): Shard {
  return { ...shard, looks: judged.flatMap(({ looks }) => looks ?? []) };
}

const UNSPLIT = "a storyline is played whole, and has no parts\n   check it without `--shard`";

/** What has no meaning for a part of a run. */
function shardProblem({ shard, bail, mend }: CheckOptions): string | undefined {
  if (shard === undefined) return undefined;
  if (bail)
    return "`--shard` has no meaning with `--bail`: what stops at a failure stops at another one in each part\n   leave one of them out";
  if (mend === undefined) return undefined;
  return "`--shard` has no meaning with `--repair`: a repair is weighed by what it does to all assertions, and a part judges some\n   look for repairs by `--only` and the name of what is broken";
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

/** Writes the reports of a run of these sites, none where they did not load; answers with the exit status. */
export async function reportRun(run: Run, loaded: readonly LoadedSite[], options: ReportOptions): Promise<number> {
  const sites = await sketchedSites(loaded, options);
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

/** A run that has loaded its sites and judged nothing yet. */
export function blankRun(sites: readonly LoadedSite[], { sources }: Shelf): Run {
  const diagnostics = sites.flatMap((site) => site.diagnostics);
  return blankCheck({ version: VERSION, sources, diagnostics });
}
