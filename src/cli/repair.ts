/**
 * `check --repair`: repairs of a site. Its plan was loaded and judged already; files of its assertions that were not asked for
 * are read besides, since a repair must not break what another file demands.
 */
import type { Ending } from "../check/index.ts";
import { Evaluation } from "../evaluate/index.ts";
import { type LoadedSite, loadMore, type Shelf, type SitePlace, siteMeant } from "../load/index.ts";
import { openPool, type Pool, workersThatPay } from "../outside/index.ts";
import { demandedBy, type Helpers, planFrom, repairsOf } from "../repair/index.ts";
import type { Mending, Verdict } from "../result/index.ts";
import type { JudgedSite } from "./judge.ts";
import type { RepairData } from "./repair.worker.ts";

/** Looks for repairs of what does not hold at a site. @throws EnginesDisagree */
export async function mendSite(
  place: SitePlace,
  judged: JudgedSite,
  broken: readonly Verdict[],
  shelf: Shelf,
  workers: number | undefined,
): Promise<readonly Mending[]> {
  const { network, site, files, documents, diagnostics } = judged.site;
  if (network === undefined || site === undefined) throw new Error(`${place.name} was judged and did not load`);
  const ids = new Set(broken.map(({ id }) => id));
  const assertions = allAssertions(place, judged.site, shelf);
  if (assertions === undefined) return [...ids].map((id) => ({ id, repairs: [], tried: 0, limit: OTHERS }));
  const evaluation = judged.evaluation ?? new Evaluation(network);
  const said = diagnostics.filter(({ labels }) => labels.some(({ span }) => files.includes(span.file)));
  const plan = planFrom({ sources: shelf.sources, files, documents, site, evaluation, diagnostics: said });
  const request = { plan, all: demandedBy(assertions), broken: ids, known: endingsOf(judged) };
  let pool: Pool | undefined;
  const helpers = async (edits: number): Promise<Helpers | undefined> => {
    const threads = workers ?? (edits < WORTH_WORKERS ? 0 : workersThatPay());
    if (threads === 0 || edits === 0) return undefined;
    pool = await openRepairPool({ sources: [...shelf.sources], files, assertions }, threads);
    return helpersIn(pool);
  };
  try {
    return await repairsOf({ ...request, helpers });
  } finally {
    await pool?.close();
  }
}

/**
 * With fewer edits than this to try no worker is started: each has to load the plan and to judge it as it is before it tries
 * any. With 96 two workers took as long as none, with 162 and 242 a seventh and a quarter less (processor time of the demo
 * with a line changed, halved for what is spread).
 */
const WORTH_WORKERS = 120;

function openRepairPool(data: RepairData, threads: number): Promise<Pool> {
  // Built, all code lies in one folder (`esbuild.config.mjs`).
  return openPool(new URL("./repair.worker.mjs", import.meta.url), threads, data);
}

function helpersIn(pool: Pool): Helpers {
  return { climb: (tasks) => pool.all("climb", tasks), weigh: (tasks) => pool.all("weigh", tasks) };
}

const OTHERS = "other assertions of this site cannot be read, so that nobody knows what an edit would break";

/** Every file of the site's assertions, in the site's order; undefined: one that was not asked for cannot be read. */
function allAssertions(place: SitePlace, loaded: LoadedSite, shelf: Shelf): LoadedSite["assertions"] | undefined {
  const whole = siteMeant(place.folder);
  const paths = "problem" in whole ? place.assertions : whole.assertions;
  const unread = paths.filter((path) => !place.assertions.includes(path));
  const others = loadMore(place, unread, shelf);
  if (others === undefined) return undefined;
  // All of these files are sound, so each has its document.
  const [known, more] = [loaded.assertions.values(), others.values()];
  const inOrder = paths.map((path) => (place.assertions.includes(path) ? known : more).next().value);
  return [...inOrder.flatMap((each) => each ?? []), ...known];
}

/** How assertions ended, by their ids, where this process knows what that rests on. */
function endingsOf({ results }: JudgedSite): ReadonlyMap<string, Ending> {
  return new Map(
    results.flatMap(({ verdicts, footprints }) =>
      verdicts.flatMap(({ id, status }, index) => {
        const footprint = footprints[index];
        // What nobody can tell about would be asked again anyway, and what must survive failures is asked without them here.
        const isTold = footprint?.everything === false;
        return isTold && status !== "skipped" ? [[id, { status, footprint }] as const] : [];
      }),
    ),
  );
}
