/**
 * Every assertion of some sites judged, in this process or by workers: the results are the same.
 */
import { type CheckResult, checkAssertions } from "../check/index.ts";
import { Evaluation, type Looks, type ProverMaker } from "../evaluate/index.ts";
import type { LoadedSite } from "../load/index.ts";
import { openPool, type Progress, workersThatPay } from "../outside/index.ts";
import { fallsShort, type SiteFacts } from "../result/index.ts";
import { siteFactsOf } from "./site-facts.ts";
import { judgeSpread, type SpreadData, type SpreadSite, type Step, slicesOf, sweepsOf } from "./spread.ts";

/** How they are judged. */
export type Judging = {
  /** Names of the only assertions to judge; empty: all. */
  readonly only: readonly string[];
  /** Skip what comes after the first that does not pass. */
  readonly bail: boolean;
  /** Works out more of each site than its verdicts, and with `pictures` how it is drawn. */
  readonly facts: "none" | "plain" | "pictures";
  /** How many workers; 0: none. Absent: as it pays. */
  readonly workers?: number;
  /** Shows how far it is. Default: nobody waits at a terminal. */
  readonly progress?: Progress;
};

/** One site, judged. */
export type JudgedSite = {
  /** The site. */
  readonly site: LoadedSite;
  /** What came of its files, in their order. */
  readonly results: readonly CheckResult[];
  /** More of it; absent: nobody asked for more, or no question could be asked. */
  readonly facts?: SiteFacts;
  /** What its questions looked at; absent as facts are. */
  readonly looks?: Looks;
  /** The questions that were asked; absent: workers asked them. */
  readonly evaluation?: Evaluation;
};

/**
 * Fewer assertions than this are judged in this process: a worker has to start, to compile its code anew and to work out what
 * the questions share. With 200 two workers took as long as none, with 400 a fifth less (processor time of the demo and of
 * a campus, halved for what is spread).
 */
const WORTH_WORKERS = 400;

/** Judges all sites. `proverMaker`: for tests that plant a wrong proof. @throws EnginesDisagree */
export async function judgeSites(
  sites: readonly LoadedSite[],
  judging: Judging,
  proverMaker?: ProverMaker,
): Promise<readonly JudgedSite[]> {
  const whole = sites.map(compiled);
  const workers = workersFor(whole, judging);
  if (workers === 0 || proverMaker !== undefined) return judgedHere(whole, judging, proverMaker);
  const data: SpreadData = { sites: whole.map(plain), only: judging.only, facts: judging.facts !== "none" };
  // Built, all code lies in one folder (`esbuild.config.mjs`).
  const pool = await openPool(new URL("./check.worker.mjs", import.meta.url), workers, data);
  try {
    const { results, looks } = await judgeSpread(data, pool, stepsOf(whole, judging));
    return bySite(whole, results).map((judged, index) => withFacts(judged, whole[index], looks[index], judging));
  } finally {
    await pool.close();
  }
}

function bySite(sites: readonly Compiled[], results: readonly CheckResult[]): readonly JudgedSite[] {
  const left = results.values();
  return sites.map((site) => ({ site, results: site.assertions.flatMap(() => left.next().value ?? []) }));
}

/** The questions were asked elsewhere: the site at rest is worked out here once more. */
function withFacts(
  judged: JudgedSite,
  site: Compiled | undefined,
  looks: Looks | undefined,
  { facts }: Judging,
): JudgedSite {
  if (site === undefined || looks === undefined) return judged;
  return { ...judged, looks, facts: factsOf(judged, new Evaluation(site.network), looks, facts) };
}

function factsOf(
  { site, results }: JudgedSite,
  evaluation: Evaluation,
  looks: Looks,
  wanted: Judging["facts"],
): SiteFacts {
  const drawn = wanted === "pictures" && site.site !== undefined ? { site: site.site } : {};
  const verdicts = results.flatMap((result) => result.verdicts);
  return siteFactsOf({ name: site.name, ...drawn, evaluation, looks, verdicts });
}

type Compiled = LoadedSite & Pick<SpreadSite, "network">;

function compiled(site: LoadedSite): Compiled {
  const { network } = site;
  if (network === undefined) throw new Error(`${site.name} has no network and no error`);
  return { ...site, network };
}

function plain({ name, network, assertions }: Compiled): SpreadSite {
  return { name, network, assertions };
}

/** Never more than there are slices. Whoever stops at the first failure asks one after the other. */
function workersFor(sites: readonly Compiled[], { only, bail, workers }: Judging): number {
  if (bail) return 0;
  const sweeps = sweepsOf(sites);
  const most = slicesOf(sites).length + sweeps.length;
  if (workers !== undefined) return Math.min(workers, most);
  const names = sites.flatMap(({ assertions }) => assertions.flatMap(({ document }) => document.assertions));
  const asked = only.length === 0 ? names.length : names.filter(({ name }) => only.includes(name.value)).length;
  // To settle a site anew after a failure, and to ask again what met it, takes longer than most assertions do.
  const failures = sweeps.reduce((sum, { stretch }) => sum + stretch.to - stretch.from, 0);
  return asked + failures < WORTH_WORKERS ? 0 : Math.min(workersThatPay(), most);
}

/** Counts what was judged, for whoever waits. */
function stepsOf(sites: readonly Compiled[], { progress }: Judging): Step {
  const all = sites.flatMap(({ assertions }) => assertions.flatMap(({ document }) => document.assertions)).length;
  const done = { judged: 0, tried: 0 };
  return (step, count = 1) => {
    done[step] += count;
    const failures = done.tried === 0 ? "" : `, ${done.tried} failures tried`;
    progress?.step(() => `${Math.min(done.judged, all)} of ${all} assertions judged${failures}`);
  };
}

function judgedHere(
  sites: readonly Compiled[],
  judging: Judging,
  proverMaker: ProverMaker | undefined,
): readonly JudgedSite[] {
  const { only, bail, facts } = judging;
  const onStep = stepsOf(sites, judging);
  let hasEnded = false;
  return sites.map((site) => {
    const evaluation = new Evaluation(site.network, proverMaker);
    const looks = facts === "none" ? undefined : evaluation.watch();
    const results = site.assertions.map(({ path, document }) => {
      const asked = bail && hasEnded ? { only: [] } : only.length > 0 ? { only } : {};
      const result = checkAssertions({ document, file: path, site: site.name, evaluation, bail, onStep, ...asked });
      hasEnded ||= result.verdicts.some(fallsShort);
      return result;
    });
    const judged = { site, results, evaluation };
    if (looks === undefined) return judged;
    // What is asked for repairs later looks at more, and is no assertion's question.
    const seen = looks.looks();
    return { ...judged, looks: seen, facts: factsOf(judged, evaluation, seen, facts) };
  });
}
