/**
 * The kernel as judge of a site's assertions: the same questions to a site that stands on it and to the simulator. Copies of
 * the site stand side by side, so that probes which would disturb each other in one run at the same time in several; a
 * difference is asked once more, with every link watched, before it counts.
 */
import type { Evaluation, World } from "../evaluate/index.ts";
import { deviceOf, type Id, lastName } from "../network/index.ts";
import { type Agreement, type Dispute, type Evidence, eachOnce } from "../result/index.ts";
import type { Site } from "../site/index.ts";
import { type Answered, askExchange } from "./ask-exchange.ts";
import { askPacket } from "./ask-packet.ts";
import type { Bench } from "./bench.ts";
import {
  bindingIn,
  type Told,
  tellAdvertised,
  tellAdvertisedIn,
  tellBinding,
  tellLease,
  worldsLike,
} from "./compare-leases.ts";
import { withGuests } from "./guests.ts";
import { buildKernelSite, type KernelSite } from "./kernel-site.ts";
import type { KernelPlan } from "./plan.ts";
import { planKernel } from "./plan-site.ts";
import type { KernelExchange, KernelPacket, KernelQuestion } from "./question.ts";
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

/** One question of an assertion, and the on-demand links that are up for it. */
type Task = { readonly owner: KernelQuestion; readonly up: readonly Id[] } & (
  | { readonly kind: "exchange"; readonly exchange: KernelExchange }
  | { readonly kind: "lease"; readonly lease: Id }
  | { readonly kind: "packet"; readonly packet: KernelPacket }
);

/** More copies than this gain nothing: building them takes the time that they save. */
const MOST_COPIES = 4;
/** A copy more for each so many questions. */
const TASKS_A_COPY = 6;

/** Asks everything of both. Rejects where the helper fails or a line of the plan is no good: faults of ours. */
export async function agreeOnSite(request: AgreeRequest): Promise<AgreeResult> {
  const tasks = request.questions.flatMap((owner): Task[] => [
    ...owner.exchanges.map((exchange) => ({ owner, kind: "exchange" as const, exchange, up: exchange.up })),
    ...owner.leases.map((lease) => ({ owner, kind: "lease" as const, lease, up: [] })),
    ...owner.packets.map((packet) => ({ owner, kind: "packet" as const, packet, up: packet.up })),
  ]);
  const answers = new Map<KernelQuestion, Answered[]>();
  const refused = new Set<string>();
  // A helper costs nothing until it is needed, and is needed once.
  let rack: Rack | undefined;
  const start = async (): Promise<Rack> => {
    rack ??= await request.bench.start();
    return rack;
  };
  try {
    for (const round of roundsOf(tasks)) {
      for (const { task, answered } of await runRound(round, { start, request, refused }))
        answers.set(task.owner, [...(answers.get(task.owner) ?? []), answered]);
    }
  } finally {
    await rack?.stop();
  }
  const agreements = request.questions.map((question) => agreementOf(question, answers.get(question) ?? []));
  return { agreements, refused: [...refused] };
}

/** Questions that the same stand-in clients are plugged in for are asked of the same site. */
function roundsOf(tasks: readonly Task[]): readonly (readonly Task[])[] {
  const rounds = new Map<string, Task[]>();
  for (const task of tasks) {
    const key = task.up.join(" ");
    rounds.set(key, [...(rounds.get(key) ?? []), task]);
  }
  return [...rounds.values()];
}

type Round = { readonly start: () => Promise<Rack>; readonly request: AgreeRequest; readonly refused: Set<string> };
type Result = { readonly task: Task; readonly answered: Answered };

async function runRound(tasks: readonly Task[], round: Round): Promise<readonly Result[]> {
  const { bench, evaluation, site: declared } = round.request;
  const planned = round.request.plan ?? ((one: Site) => planKernel(one, bench.kind));
  const up = tasks[0]?.up ?? [];
  const site = withGuests(declared, evaluation.network, up);
  if (!("devices" in site))
    return all(
      tasks,
      site.map(({ origin }) => ({ origin, text: "a client on a radio" })),
    );
  const plan = planned(site);
  const missing = bench.missing(plan);
  if (missing.length > 0)
    return all(
      tasks,
      missing.map(({ origin, what }) => ({ origin, text: what })),
    );
  const copies = Math.min(MOST_COPIES, Math.ceil(tasks.length / TASKS_A_COPY));
  const rack = await round.start();
  const sites = await Promise.all(Array.from({ length: copies }, () => buildKernelSite(rack, plan)));
  const { worlds } = evaluation.worlds(up);
  for (const { device, line, said } of sites[0]?.refused ?? []) round.refused.add(`${device}: ${line}: ${said}`);
  const pending = tasks.entries();
  const results: Result[] = [];
  const work = async (copy: KernelSite): Promise<void> => {
    const fitting = worldsLike(worlds, copy, site);
    for (const [index, task] of pending) {
      results[index] = {
        task,
        answered: await ask(task, { copy, worlds, fitting, site, evaluation, knowsTags: bench.kind === "full" }),
      };
    }
  };
  await Promise.all(sites.map(work));
  await Promise.all(sites.map((copy) => copy.close()));
  return results;
}

type Asking = {
  readonly copy: KernelSite;
  readonly worlds: readonly World[];
  /** Those in which everybody is told what he was told on the kernel. */
  readonly fitting: readonly World[];
  readonly site: Site;
  readonly evaluation: Evaluation;
  readonly knowsTags: boolean;
};

/** Where the leases or the advertised addresses differ already, what follows from them is not asked. */
async function ask(task: Task, { copy, worlds, fitting, site, evaluation, knowsTags }: Asking): Promise<Answered> {
  if (fitting.length === 0) return { answers: [], disputes: tellingDisputes(worlds, copy, site), missing: [] };
  switch (task.kind) {
    case "lease":
      return { answers: [tellLease(copy.leases.get(task.lease), site)], disputes: [], missing: [] };
    case "exchange": {
      const requests = task.exchange.requests.filter(({ world }) => fitting.includes(world));
      return askExchange(copy, { ...task.exchange, requests }, evaluation);
    }
    case "packet":
      return fitting.includes(task.packet.world)
        ? askPacket(copy, task.packet, evaluation, knowsTags)
        : { answers: [], disputes: [], missing: [] };
  }
}

/** What one interface is told by both. */
type Telling = { readonly of: string; readonly kernel: string; readonly inWorld: (world: World) => string };

function tellingDisputes(worlds: readonly World[], { leases, advertised }: Told, site: Site): readonly Dispute[] {
  const tellings: readonly Telling[] = [
    ...[...leases].map(([id, lease]) => ({
      of: `the lease of ${nameOf(id)}`,
      kernel: tellLease(lease, site),
      inWorld: (world: World) => tellBinding(bindingIn(world, id)),
    })),
    ...[...advertised].map(([id, each]) => ({
      of: `what is advertised to ${nameOf(id)}`,
      kernel: tellAdvertised(each),
      inWorld: (world: World) => tellAdvertisedIn(world, id),
    })),
  ];
  const apart = tellings.flatMap(({ of: question, kernel, inWorld }) => {
    const model = [...new Set(worlds.map(inWorld))];
    return model.includes(kernel) ? [] : [{ question, kernel, model, kernelWay: [], modelWay: [] }];
  });
  if (apart.length > 0) return apart;
  const together = (tell: (telling: Telling) => string): string =>
    tellings.map((telling) => `${telling.of} ${tell(telling)}`).join(" | ");
  const kernel = together((telling) => telling.kernel);
  const model = worlds.map((world) => together((telling) => telling.inWorld(world)));
  return [{ question: "what all clients together are told", kernel, model, kernelWay: [], modelWay: [] }];
}

function nameOf(id: Id): string {
  return `${deviceOf(id)}/${lastName(id)}`;
}

function all(tasks: readonly Task[], missing: readonly Evidence[]): readonly Result[] {
  return tasks.map((task) => ({ task, answered: { answers: [], disputes: [], missing } }));
}

function agreementOf({ name, at }: KernelQuestion, answered: readonly Answered[]): Agreement {
  const answers = answered.flatMap((each) => each.answers);
  const disputes = answered.flatMap((each) => each.disputes);
  const missing = eachOnce(answered.flatMap((each) => each.missing));
  const asked = answers.length + disputes.length;
  const texts = [...new Set(answers)];
  return {
    name,
    at,
    status: statusOf({ asked, disputes: disputes.length, missing: missing.length }),
    asked,
    answers: texts.map((text) => ({ text, times: answers.filter((each) => each === text).length })),
    disputes,
    missing,
  };
}

type Counts = {
  readonly asked: number;
  readonly disputes: number;
  readonly missing: number;
};

function statusOf({ asked, disputes, missing }: Counts): Agreement["status"] {
  if (disputes > 0) return "differs";
  if (missing > 0) return asked > 0 ? "in-part" : "not-probed";
  return asked === 0 ? "asks-nothing" : "agrees";
}
