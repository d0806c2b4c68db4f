/**
 * The kernel as judge of a site's assertions: the same questions to a site that stands on it and to the simulator. Copies of
 * the site stand side by side, so that probes which would disturb each other in one run at the same time in several; a
 * difference is asked once more, with every link watched, before it counts.
 */
import type { Evaluation } from "../evaluate/index.ts";
import type { Id } from "../network/index.ts";
import type { Agreement, Evidence } from "../result/index.ts";
import type { Site } from "../site/index.ts";
import { type Answered, askExchange } from "./ask-exchange.ts";
import type { Bench } from "./bench.ts";
import { buildKernelSite, type KernelSite } from "./kernel-site.ts";
import type { KernelPlan, Unsupported } from "./plan.ts";
import { planKernel } from "./plan-site.ts";
import type { KernelExchange, KernelQuestion } from "./question.ts";
import type { Rack } from "./rack.ts";

/** What is judged, where. */
export type AgreeRequest = {
  /** The site, for the kernel. */
  readonly site: Site;
  /** Its description with the engines, for the simulator. */
  readonly evaluation: Evaluation;
  /** What the assertions ask, in document order. */
  readonly questions: readonly KernelQuestion[];
  /** Where the site is built. */
  readonly bench: Bench;
  /** The plan of a site; for tests that build another. Default: the translation. */
  readonly plan?: (site: Site) => KernelPlan;
};

/** What came of it. */
export type AgreeResult = {
  /** One an assertion, in order. */
  readonly agreements: readonly Agreement[];
  /** Routes that the kernel refused. */
  readonly refused: readonly string[];
};

/** One question of an assertion in the round that asks it. */
type Task = { readonly owner: KernelQuestion; readonly exchange: KernelExchange };

/** More copies than this gain nothing: building them takes the time that they save. */
const MOST_COPIES = 4;
/** A copy more for each so many questions. */
const TASKS_A_COPY = 6;

/** Asks everything of both. Rejects where the helper fails or a line of the plan is no good: faults of ours. */
export async function agreeOnSite(request: AgreeRequest): Promise<AgreeResult> {
  const tasks = request.questions.flatMap((owner) => owner.exchanges.map((exchange) => ({ owner, exchange })));
  const answers = new Map<KernelQuestion, Answered[]>();
  const refused = new Set<string>();
  if (tasks.length > 0) {
    const plan = (request.plan ?? planKernel)(request.site);
    const missing = request.bench.missing(plan);
    const rack = missing.length === 0 ? request.bench.start() : undefined;
    try {
      for (const round of roundsOf(tasks)) {
        const results =
          rack === undefined
            ? round.map((task) => ({ task, answered: withoutMeans(missing) }))
            : await runRound(round, { rack, plan, request, refused });
        for (const { task, answered } of results)
          answers.set(task.owner, [...(answers.get(task.owner) ?? []), answered]);
      }
    } finally {
      await rack?.stop();
    }
  }
  const agreements = request.questions.map((question) => agreementOf(question, answers.get(question) ?? []));
  return { agreements, refused: [...refused] };
}

/** Questions that the same stand-in clients are plugged in for are asked of the same site. */
function roundsOf(tasks: readonly Task[]): readonly (readonly Task[])[] {
  const rounds = new Map<string, Task[]>();
  for (const task of tasks) {
    const key = task.exchange.up.join(" ");
    rounds.set(key, [...(rounds.get(key) ?? []), task]);
  }
  return [...rounds.values()];
}

type Round = {
  readonly rack: Rack;
  readonly plan: KernelPlan;
  readonly request: AgreeRequest;
  readonly refused: Set<string>;
};
type Result = { readonly task: Task; readonly answered: Answered };

async function runRound(tasks: readonly Task[], round: Round): Promise<readonly Result[]> {
  const { rack, plan, request, refused } = round;
  const up = tasks[0]?.exchange.up ?? [];
  if (up.length > 0) return tasks.map((task) => ({ task, answered: withoutGuests(up, request) }));
  const copies = Math.min(MOST_COPIES, Math.ceil(tasks.length / TASKS_A_COPY));
  const sites = await Promise.all(Array.from({ length: copies }, () => buildKernelSite(rack, plan)));
  for (const { device, line, said } of sites[0]?.refused ?? []) refused.add(`${device}: ${line}: ${said}`);
  const pending = tasks.entries();
  const results: Result[] = [];
  const work = async (site: KernelSite): Promise<void> => {
    for (const [index, task] of pending) {
      results[index] = { task, answered: await askExchange(site, task.exchange, request.evaluation) };
    }
  };
  await Promise.all(sites.map(work));
  await Promise.all(sites.map((site) => site.close()));
  return results;
}

function withoutMeans(missing: readonly Unsupported[]): Answered {
  return { answers: [], disputes: [], missing: missing.map(({ origin, what }) => ({ origin, text: what })) };
}

function withoutGuests(up: readonly Id[], { evaluation }: AgreeRequest): Answered {
  const links = evaluation.network.links.filter(({ id }) => up.includes(id));
  return {
    answers: [],
    disputes: [],
    missing: links.map(({ origin }) => ({ origin, text: "a client that was just plugged in" })),
  };
}

function agreementOf({ name, at, exchanges, unasked }: KernelQuestion, answered: readonly Answered[]): Agreement {
  const beside: Evidence[] = unasked === undefined ? [] : [{ origin: { by: "written", span: at }, text: unasked }];
  const answers = answered.flatMap((each) => each.answers);
  const disputes = answered.flatMap((each) => each.disputes);
  const missing = onceEach([...beside, ...answered.flatMap((each) => each.missing)]);
  const asked = answers.length + disputes.length;
  const texts = [...new Set(answers)];
  return {
    name,
    at,
    status: statusOf({ questions: exchanges.length, asked, disputes: disputes.length, missing: missing.length }),
    asked,
    answers: texts.map((text) => ({ text, times: answers.filter((each) => each === text).length })),
    disputes,
    missing,
  };
}

type Counts = {
  readonly questions: number;
  readonly asked: number;
  readonly disputes: number;
  readonly missing: number;
};

function statusOf({ questions, asked, disputes, missing }: Counts): Agreement["status"] {
  if (disputes > 0) return "differs";
  if (missing > 0) return asked > 0 ? "in-part" : "not-probed";
  return questions === 0 || asked === 0 ? "asks-nothing" : "agrees";
}

function onceEach(missing: readonly Evidence[]): readonly Evidence[] {
  const known = new Map(
    missing.map((each) => [`${each.origin.span.file}:${each.origin.span.start}:${each.text}`, each]),
  );
  return [...known.values()];
}
