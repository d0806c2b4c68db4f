/**
 * `report merge FILES`: the parts of a run, judged by several jobs, put together. The sites are loaded anew from the texts in the
 * reports, and the verdicts are taken from them: every report of it is the same, byte for byte, as of the run that nobody split.
 */
import { isDeepStrictEqual } from "node:util";
import { hasErrors } from "../diagnose/index.ts";
import { Evaluation, joinedLooks } from "../evaluate/index.ts";
import { type LoadedSite, loadFiles, type Shelf } from "../load/index.ts";
import type { PartSite, Run } from "../result/index.ts";
import { blankRun, CHECK_FORMATS, factsFor, type ReportOptions, reportRun } from "./check.ts";
import type { Judging } from "./judge.ts";
import { outputProblem } from "./output.ts";
import { type Piece, type Refused, readPiece, runOfPiece } from "./read-report.ts";
import { refuse } from "./refuse.ts";
import { idsOf } from "./shard.ts";
import { siteFactsOf } from "./site-facts.ts";

/** Runs the command; answers with the exit status: that of the run that nobody split, or 2. */
export async function runReportMerge(paths: readonly string[], options: ReportOptions): Promise<number> {
  const problem = outputProblem(options, CHECK_FORMATS);
  if (problem !== undefined) return refuse(problem);
  const pieces = piecesOf(paths);
  if (typeof pieces === "string") return refuse(pieces);
  const shelf: Shelf = { sources: [] };
  const sites = (pieces[0]?.report.shard.sites ?? []).map((site) => loadFiles(site, shelf));
  const run = mergedRun(pieces, sites, blankRun(sites, shelf));
  if (typeof run === "string") return refuse(run);
  const told = { ...run, ...factsOf(run, pieces, sites, factsFor(options.format)) };
  return reportRun(told, sites.some(({ diagnostics }) => hasErrors(diagnostics)) ? [] : sites, options);
}

/** All parts of one run, in their order; a text: they are not. */
function piecesOf(paths: readonly string[]): readonly Piece[] | string {
  const read = paths.map(readPiece);
  const wrong = read.filter((piece): piece is Refused => "problem" in piece);
  if (wrong.length > 0) return wrong.map((piece) => piece.problem).join("\n");
  const pieces = read
    .flatMap((piece) => ("problem" in piece ? [] : [piece]))
    .toSorted((a, b) => a.report.shard.part - b.report.shard.part);
  return strangers(pieces) ?? gaps(pieces) ?? pieces;
}

/** What is not of the same run. */
function strangers([first, ...others]: readonly Piece[]): string | undefined {
  if (first === undefined) return "name the reports of all parts";
  const { shard } = first.report;
  const split = others.find(({ report }) => report.shard.of !== shard.of);
  if (split !== undefined)
    return `\`${first.path}\` is one part of ${shard.of}, \`${split.path}\` one of ${split.report.shard.of}`;
  const chosen = others.find(({ report }) => !isDeepStrictEqual(report.shard.only, shard.only));
  if (chosen !== undefined)
    return `\`${first.path}\` and \`${chosen.path}\` do not judge the same: \`--only\` was not the same\n   run all parts with the same words`;
  const other = others.find(({ report }) => !isDeepStrictEqual(report.shard.sites, shard.sites));
  if (other === undefined) return undefined;
  const file = differing(shard.sites, other.report.shard.sites);
  return `\`${first.path}\` and \`${other.path}\` were judged on different plans: ${file}\n   run all parts on one revision, with the same paths`;
}

/** The first file in which two plans differ, in words. */
function differing(one: readonly PartSite[], other: readonly PartSite[]): string {
  const [before, after] = [one, other].map(
    (sites) =>
      new Map(sites.flatMap(({ plan, judges }) => [...plan, ...judges].map(({ path, read }) => [path, read] as const))),
  );
  const paths = [...new Set([...(before?.keys() ?? []), ...(after?.keys() ?? [])])];
  const path = paths.find((each) => !isDeepStrictEqual(before?.get(each), after?.get(each)));
  return path === undefined ? "they name other sites" : `\`${path}\` is not the same`;
}

/** Parts that are there twice, or not at all. */
function gaps(pieces: readonly Piece[]): string | undefined {
  const numbers = pieces.map(({ report }) => report.shard.part);
  const twice = pieces.find((_, index) => numbers.indexOf(numbers[index] ?? 0) < index);
  const of = pieces[0]?.report.shard.of ?? 0;
  if (twice !== undefined) {
    const { part } = twice.report.shard;
    const earlier = pieces.find(({ report }) => report.shard.part === part);
    return `\`${earlier?.path}\` and \`${twice.path}\` are both part ${part} of ${of}`;
  }
  const missing = Array.from({ length: of }, (_, index) => index + 1).filter((part) => !numbers.includes(part));
  if (missing.length === 0) return undefined;
  const told = missing.length > MOST_TOLD ? [...missing.slice(0, MOST_TOLD), "…"] : missing;
  return `of ${of} parts ${missing.length} ${missing.length === 1 ? "is" : "are"} missing: ${told.join(", ")}\n   every part must be there, those of jobs that failed, too`;
}

/** A list of missing parts ends here. */
const MOST_TOLD = 10;

/** The run of all parts; a text: a report says something that no part of it came to. */
function mergedRun(pieces: readonly Piece[], sites: readonly LoadedSite[], loaded: Run): Run | string {
  const runs: Run[] = [];
  for (const piece of pieces) {
    const run = runOfPiece(piece, idsOf(sites, piece.report.shard), loaded);
    if (typeof run === "string") return run;
    runs.push(run);
  }
  const [first] = runs;
  if (first === undefined) throw new Error("a run of no parts");
  // A fault ends the run, and the first of them is told.
  const { shard: _, ...shown } = runs.find(({ fault }) => fault !== undefined) ?? first;
  if (shown.fault !== undefined) return shown;
  const other = runs.findIndex(({ diagnostics }) => !isDeepStrictEqual(diagnostics, first.diagnostics));
  if (other >= 0) return `\`${pieces[0]?.path}\` and \`${pieces[other]?.path}\` tell different things of the documents`;
  const verdicts = runs.flatMap((run) => run.verdicts);
  const assumptions = [...new Set(runs.flatMap((run) => run.assumptions))];
  return { ...shown, verdicts, assumptions };
}

/** What reports tell of the sites beside the verdicts, of what all parts looked at; nothing where a part judged nothing. */
function factsOf(
  run: Run,
  pieces: readonly Piece[],
  sites: readonly LoadedSite[],
  wanted: Judging["facts"],
): Pick<Run, "sites"> {
  if (wanted === "none" || run.fault !== undefined || hasErrors(run.diagnostics)) return {};
  const facts = sites.flatMap(({ name, site, network }, index) => {
    if (network === undefined) return [];
    const looks = joinedLooks(pieces.flatMap(({ report }) => report.shard.looks[index] ?? []));
    const drawn = wanted === "pictures" && site !== undefined ? { site } : {};
    const verdicts = run.verdicts.filter((verdict) => verdict.site === name);
    return [siteFactsOf({ name, ...drawn, evaluation: new Evaluation(network), looks, verdicts })];
  });
  return facts.length === 0 ? {} : { sites: facts };
}
