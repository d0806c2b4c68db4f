/**
 * `check [FILES]`: loads every site meant, judges its assertions, reports.
 */
import { checkAssertions } from "../check/index.ts";
import { EnginesDisagree, Evaluation } from "../evaluate/index.ts";
import { toErrors } from "../outside/index.ts";
import type { Run, Verdict } from "../result/index.ts";
import { type LoadedSite, loadSite, type Shelf } from "./load-site.ts";
import { deliver, type OutputOptions, outputProblem } from "./output.ts";
import { sitesMeant } from "./places.ts";
import { VERSION } from "./version.ts";

/** Options of `check`. */
export type CheckOptions = OutputOptions & {
  /** Names of the only assertions to judge; empty: all. */
  readonly only: readonly string[];
  /** Skip what comes after the first that does not pass. */
  readonly bail: boolean;
};

/** Runs the command; answers with the exit status. */
export function runCheck(paths: readonly string[], options: CheckOptions): number {
  const problem = outputProblem(options);
  if (problem !== undefined) return refuse(problem);
  const places = sitesMeant(paths);
  const wrong = places.find((place) => "problem" in place);
  if (wrong !== undefined && "problem" in wrong) return refuse(`${wrong.problem}\n   ${wrong.help}`);
  const shelf: Shelf = { sources: [] };
  const sites = places.flatMap((place) => ("problem" in place ? [] : [loadSite(place, shelf)]));
  if (sites.every((site) => site.assertions.length === 0 && site.diagnostics.length === 0)) {
    return refuse(`no assertions for ${placesTold(places)}: write some in \`assertions/NAME\``);
  }
  return deliver(runOf(sites, shelf, options), options);
}

function placesTold(places: ReturnType<typeof sitesMeant>): string {
  return places.flatMap((place) => ("name" in place ? [`\`${place.name}\``] : [])).join(", ");
}

function refuse(text: string): number {
  toErrors(`${text}\n`);
  return 2;
}

/** Judges all sites; when any document is wrong nothing is judged. */
function runOf(sites: readonly LoadedSite[], shelf: Shelf, options: CheckOptions): Run {
  const loading = sites.flatMap((site) => site.diagnostics);
  const blank: Run = {
    command: "check",
    version: VERSION,
    sources: shelf.sources,
    diagnostics: loading,
    verdicts: [],
    assumptions: [],
  };
  if (loading.some((diagnostic) => diagnostic.severity === "error")) return blank;
  try {
    return judged(sites, options, blank);
  } catch (error) {
    if (error instanceof EnginesDisagree) return { ...blank, fault: error.message };
    throw error;
  }
}

function judged(sites: readonly LoadedSite[], { only, bail }: CheckOptions, blank: Run): Run {
  const verdicts: Verdict[] = [];
  const diagnostics = [...blank.diagnostics];
  for (const site of sites) {
    if (site.network === undefined) throw new Error(`${site.name} has no network and no error`);
    const evaluation = new Evaluation(site.network);
    for (const { path, document } of site.assertions) {
      const ended = bail && verdicts.some((verdict) => verdict.status !== "passed" && verdict.status !== "skipped");
      const asked = ended ? [] : only;
      const result = checkAssertions({
        document,
        file: path,
        site: site.name,
        evaluation,
        bail,
        ...(asked.length > 0 || ended ? { only: asked } : {}),
      });
      verdicts.push(...result.verdicts);
      diagnostics.push(...result.diagnostics);
    }
  }
  const assumptions = [...new Set(verdicts.flatMap((verdict) => verdict.assumptions))];
  const wrong = diagnostics.some((diagnostic) => diagnostic.severity === "error");
  return { ...blank, diagnostics, verdicts: wrong ? [] : verdicts, assumptions: wrong ? [] : assumptions };
}
