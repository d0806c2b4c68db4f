/**
 * Assertions of all sites, judged by workers: slices of a fixed size in document order, whoever takes which. Each worker gets
 * a copy of the sites as they were compiled, so that no file is read or compiled twice. Those that must survive failures are
 * sliced by the failures: what a site is without a part is worked out once for all of them.
 */
import { type CheckResult, joinedSurvivals, namingFaults, type Stretch, type Survival } from "../check/index.ts";
import { type Diagnostic, hasErrors } from "../diagnose/index.ts";
import type { Assertion, AssertionsDocument } from "../document/index.ts";
import { Evaluation, joinedLooks, type Looks, ToldDisagreement } from "../evaluate/index.ts";
import type { LoadedSite } from "../load/index.ts";
import type { Network } from "../network/index.ts";
import type { Pool } from "../outside/index.ts";
import type { Verdict } from "../result/index.ts";

/** A site as workers know it. */
export type SpreadSite = Pick<LoadedSite, "name" | "assertions"> & {
  /** Its description. */
  readonly network: Network;
};

/** What every worker gets. */
export type SpreadData = {
  /** The sites. */
  readonly sites: readonly SpreadSite[];
  /** Names of the only assertions to judge; empty: all. */
  readonly only: readonly string[];
  /** Takes down what questions look at. */
  readonly facts: boolean;
};

/** Some assertions of one file, of those that need not survive anything. */
export type Slice = FilePlace & {
  /** Number of the first one. */
  readonly from: number;
  /** Number behind the last one. */
  readonly to: number;
};

/** A file of one site. */
type FilePlace = {
  /** Number of the site. */
  readonly site: number;
  /** Number of the file in it. */
  readonly file: number;
};

/** All assertions of a file that must survive failures, under some of these. */
export type SweepSlice = FilePlace & {
  /** The failures. */
  readonly stretch: Stretch;
  /** What came of every single one; absent: single ones are asked for. */
  readonly single?: readonly Survival[];
};

/** The verdicts on those assertions. */
export type SweptFile = FilePlace & {
  /** What came of all failures. */
  readonly survivals: readonly Survival[];
};

/** What a worker is asked for. */
export type SpreadTask = Slice | SweepSlice | SweptFile;

/** What came of it. */
export type SpreadAnswer = {
  /** One for each assertion; empty after a fault, and where only failures were tried. */
  readonly verdicts: readonly Verdict[];
  /** What became of each assertion under some failures, and how many pairs of them are to be tried. */
  readonly swept?: { readonly survivals: readonly Survival[]; readonly pairs: number };
  /** What all questions to the site so far looked at, whoever asked them here; absent: nobody took it down. */
  readonly looks?: Looks;
  /** Why the engines disagree. */
  readonly fault?: string;
};

/** What came of all slices. */
export type JudgedSpread = {
  /** One for each file, in document order. */
  readonly results: readonly CheckResult[];
  /** What the questions to each site looked at; empty: nobody took it down. */
  readonly looks: readonly Looks[];
};

/** Assertions beside one another are often about one part of a site, and share questions. */
const ASSERTIONS_EACH = 32;

/** Every one is settled for all assertions of a file. */
const FAILURES_EACH = 16;

/** The assertions of a file that are judged and done with, and those that must survive failures. */
export function sortedOut({ assertions }: AssertionsDocument): {
  readonly plain: readonly Assertion[];
  readonly swept: readonly Assertion[];
} {
  return {
    plain: assertions.filter(({ survives }) => survives === undefined),
    swept: assertions.filter(({ survives }) => survives !== undefined),
  };
}

type Files = readonly Pick<LoadedSite, "assertions">[];

/** All slices, in document order. */
export function slicesOf(sites: Files): readonly Slice[] {
  return sites.flatMap(({ assertions }, site) =>
    assertions.flatMap(({ document }, file) =>
      cut(sortedOut(document).plain.length, ASSERTIONS_EACH).map((each) => ({ site, file, ...each })),
    ),
  );
}

/** All slices of single failures, in document order; some of the last ones may be empty. */
export function sweepsOf(
  sites: readonly (Pick<LoadedSite, "assertions"> & Pick<SpreadSite, "network">)[],
): readonly SweepSlice[] {
  return sites.flatMap(({ assertions, network }, site) =>
    assertions.flatMap(({ document }, file) => {
      if (sortedOut(document).swept.length === 0) return [];
      return cut(mostFailures(network), FAILURES_EACH).map(
        (each) => ({ site, file, stretch: { size: 1, ...each } }) as const,
      );
    }),
  );
}

/** No more single parts than these can fail. */
function mostFailures({ links, devices, services }: Network): number {
  const fates = links.flatMap(({ downWith }) => downWith);
  return links.length + fates.length + devices.length + services.length;
}

function cut(count: number, each: number): readonly { readonly from: number; readonly to: number }[] {
  return Array.from({ length: Math.ceil(count / each) }, (_, index) => {
    return { from: index * each, to: Math.min(count, (index + 1) * each) };
  });
}

/** Is told of so many assertions that were judged, or failures that were tried. */
export type Step = (step: "judged" | "tried", count?: number) => void;

const NOBODY: Step = () => {};

/** The same results as in this process, file by file. The workers of the pool hold the data. @throws EnginesDisagree */
export async function judgeSpread(
  { sites, facts }: SpreadData,
  pool: Pool,
  onStep: Step = NOBODY,
): Promise<JudgedSpread> {
  const named = sites.map(faultsOf);
  const isSound = ({ site, file }: FilePlace): boolean => !hasErrors(named[site]?.[file] ?? []);
  const spread = new Spreading(pool, onStep);
  const judged = await spread.ask([...slicesOf(sites), ...sweepsOf(sites)].filter(isSound));
  const paired = await spread.ask(pairsIn(judged));
  const swept = await spread.ask(sweptIn([...judged, ...paired]));
  const results = named.flatMap((files, site) =>
    files.map((diagnostics, file) => {
      const document = sites[site]?.assertions[file]?.document;
      const verdictsIn = (done: readonly Done[]): readonly Verdict[] => {
        return done.flatMap(({ task, answer }) => (task.site === site && task.file === file ? answer.verdicts : []));
      };
      const verdicts = inOrder(document?.assertions ?? [], verdictsIn(judged), verdictsIn(swept));
      return { verdicts, diagnostics, footprints: [], reused: 0 };
    }),
  );
  return { results, looks: facts ? sites.map((_, site) => joinedLooks(spread.looksAt(site))) : [] };
}

/** A task that is done. */
type Done<Task extends SpreadTask = SpreadTask> = { readonly task: Task; readonly answer: SpreadAnswer };

/** Hands out tasks; the first of them in which the engines disagree ends all. */
class Spreading {
  readonly #pool: Pool;
  readonly #onStep: Step;
  readonly #done: Done[] = [];

  constructor(pool: Pool, onStep: Step) {
    this.#pool = pool;
    this.#onStep = onStep;
  }

  async ask(tasks: readonly SpreadTask[]): Promise<readonly Done[]> {
    const answers = await this.#pool.all<SpreadTask, SpreadAnswer>("judgeSlice", tasks, (index) => {
      const task = tasks[index];
      if (task === undefined) return;
      if ("stretch" in task) this.#onStep("tried", task.stretch.to - task.stretch.from);
      else this.#onStep("judged", "survivals" in task ? task.survivals.length : task.to - task.from);
    });
    const fault = answers.find((answer) => answer.fault !== undefined)?.fault;
    if (fault !== undefined) throw new ToldDisagreement(fault);
    const done = tasks.flatMap((task, index) => {
      const answer = answers[index];
      return answer === undefined ? [] : [{ task, answer }];
    });
    this.#done.push(...done);
    return done;
  }

  /** What the questions to a site looked at. */
  looksAt(site: number): readonly Looks[] {
    return this.#done.flatMap(({ task, answer }) => (task.site === site ? (answer.looks ?? []) : []));
  }
}

/** What was tried of each file, in the order of the files. */
function triedIn(done: readonly Done[]): readonly { readonly place: FilePlace; readonly tried: readonly Done[] }[] {
  const files = new Map<string, { place: FilePlace; tried: Done[] }>();
  for (const each of done) {
    if (!("stretch" in each.task)) continue;
    const { site, file } = each.task;
    const known = files.get(`${site} ${file}`) ?? { place: { site, file }, tried: [] };
    files.set(`${site} ${file}`, known);
    known.tried.push(each);
  }
  return [...files.values()];
}

function survivalsOf(tried: readonly Done[]): readonly Survival[] {
  return joinedSurvivals(tried.flatMap(({ answer }) => (answer.swept === undefined ? [] : [answer.swept.survivals])));
}

/** Pairs are tried once it is known which parts break an assertion alone. */
function pairsIn(judged: readonly Done[]): readonly SweepSlice[] {
  return triedIn(judged).flatMap(({ place, tried }) => {
    const single = survivalsOf(tried);
    const pairs = tried[0]?.answer.swept?.pairs ?? 0;
    return cut(pairs, FAILURES_EACH).map((each) => ({ ...place, stretch: { size: 2, ...each }, single }) as const);
  });
}

function sweptIn(done: readonly Done[]): readonly SweptFile[] {
  return triedIn(done).map(({ place, tried }) => ({ ...place, survivals: survivalsOf(tried) }));
}

/** The verdicts of a file, each where its assertion stands. */
function inOrder(
  assertions: readonly Assertion[],
  plain: readonly Verdict[],
  swept: readonly Verdict[],
): readonly Verdict[] {
  const [one, other] = [plain.values(), swept.values()];
  return assertions.flatMap(({ survives }) => (survives === undefined ? one : other).next().value ?? []);
}

function faultsOf({ network, assertions }: SpreadSite): readonly (readonly Diagnostic[])[] {
  const evaluation = new Evaluation(network);
  return assertions.map(({ document }) => namingFaults(document, evaluation));
}
