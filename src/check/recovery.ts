/**
 * `recovers: from-dark`: what holds on the site at rest is asked again after everything was off and came on, in every order of
 * starting that could matter (`evaluate/starting/`): all at once, one by one, and whoever contends with whom in each order.
 * The shortest order that breaks it is shown. Where contests have more orders than are tried, and the assertion looked at what
 * they are about, nobody can tell.
 */
import { addressKey, type Ranges, rangesOverlap } from "../address/index.ts";
import type { Assertion, Target } from "../document/index.ts";
import {
  type Contest,
  circlesOf,
  contestsOf,
  directoryOf,
  type Evaluation,
  type Footprint,
  needsOf,
  type Order,
  ordersFor,
  type Start,
  Starts,
  shorterThan,
  takenOf,
  twoSteps,
  Wiring,
} from "../evaluate/index.ts";
import type { Pick as Option } from "../network/index.ts";
import { type Recovery, tellPicks } from "../result/index.ts";
import type { CheckContext, Finding } from "./context.ts";
import { isSamePick, tellingPicks } from "./question.ts";
import { mendingAfter, otherwiseAfter } from "./recovery-words.ts";

/** An assertion that holds on the site at rest and must come back from dark. */
export type Recoverer = {
  /** It. */
  readonly assertion: Assertion;
  /** What its verdict at rest looked at. */
  readonly footprint: Footprint;
  /** How it ended at rest. */
  readonly held: Finding;
};

/** How an assertion ends on a site at one moment. */
type Judging = (assertion: Assertion, context: CheckContext) => Finding;

/** An order of starting after which an assertion does not hold, or nobody can tell. */
type Trouble = { readonly start: Start; readonly finding: Finding };

/** Of more contending devices than these not every split into early and late is tried to shorten an order. */
const MOST_SPLIT = 5;

const startsOf = new WeakMap<Evaluation, Starts>();

/** What starting from dark makes of an assertion that holds at rest. */
export function recoveryOf(recoverer: Recoverer, context: CheckContext, judge: Judging): Finding {
  const { evaluation } = context;
  const starts = startsOf.get(evaluation) ?? new Starts(evaluation);
  startsOf.set(evaluation, starts);
  const { worlds } = evaluation.worlds();
  const contests = contestsOf(evaluation.network, worlds, addressesIn(recoverer.assertion));
  const circles = circlesOf(contests);
  const { orders, isComplete } = ordersFor(starts.devices, circles);
  const trial = new Trial(recoverer, starts, context, judge);
  const broken = trial.firstOf(orders);
  const [world] = worlds;
  const recovery: Recovery = {
    orders: trial.tried,
    contests: contests.map(({ text }) => text),
    waits: (world === undefined ? [] : needsOf(evaluation.network, world)).map(({ device, needs, what }) => {
      return { device, for: needs, what };
    }),
  };
  if (broken !== undefined) {
    const shortest = trial.shortest(broken, circles.flat());
    return brokenFinding(shortest, trial.neededFor(shortest), { recovery, recoverer, context });
  }
  if (trial.open !== undefined) return openFinding(trial.open, trial.neededFor(trial.open), recovery);
  if (trial.more !== undefined) {
    const limit = `${tellSteps(trial.more)} it may come out in more ways than were tried`;
    return limitedFinding(limit, recovery, recoverer);
  }
  const met = isComplete
    ? undefined
    : contests.find((contest) => contest.devices.length > 0 && meets(recoverer.footprint, contest, evaluation));
  if (met !== undefined) {
    const limit = `${trial.tried} orders of starting were tried, and more decide ${met.text}`;
    return limitedFinding(limit, recovery, recoverer);
  }
  const told = trial.tried === 1 ? "in the one order of starting" : `in each of ${trial.tried} orders of starting`;
  return { ...recoverer.held, headline: `${recoverer.held.headline}; recovers from dark ${told}`, recovery };
}

class Trial {
  tried = 0;
  /** The first start of which nobody can tell. */
  open: Trouble | undefined;
  /** The first order of which not every outcome was tried, where the assertion looked at what they are about. */
  more: Order | undefined;
  readonly #recoverer: Recoverer;
  readonly #starts: Starts;
  readonly #context: CheckContext;
  readonly #judge: Judging;
  /** By what a site has come to. */
  readonly #findings = new Map<string, Finding>();

  constructor(recoverer: Recoverer, starts: Starts, context: CheckContext, judge: Judging) {
    this.#recoverer = recoverer;
    this.#starts = starts;
    this.#context = context;
    this.#judge = judge;
  }

  /** The first order after which it does not hold. */
  firstOf(orders: readonly Order[]): Trouble | undefined {
    for (const order of orders) {
      this.tried++;
      const broken = this.#brokenBy(order);
      if (broken !== undefined) return broken;
    }
    return undefined;
  }

  /** The same trouble by as few steps as can be found: of two of these devices that contend, or by joining steps. */
  shortest(broken: Trouble, contending: readonly string[]): Trouble {
    let best = broken;
    const { devices } = this.#starts;
    if (best.start.order.length > 2 && contending.length <= MOST_SPLIT)
      best = this.#firstAmong(twoSteps(devices, contending)) ?? best;
    for (;;) {
      const shorter = this.#firstAmong(shorterThan(best.start.order));
      if (shorter === undefined) return best;
      best = shorter;
    }
  }

  /** What must be taken of what the documents leave open for it to break, where the same order does not break it otherwise. */
  neededFor({ start, finding: { picks: told = [] } }: Trouble): readonly Option[] {
    const { starts } = this.#starts.after(start.order);
    const better = starts.filter((each) => this.#findingAfter(each).status === "passed").map(takenOf);
    return tellingPicks(takenOf(start), better).filter((pick) => !told.some((known) => isSamePick(known, pick)));
  }

  #firstAmong(orders: readonly Order[]): Trouble | undefined {
    for (const order of orders) {
      const broken = this.#brokenBy(order);
      if (broken !== undefined) return broken;
    }
    return undefined;
  }

  #brokenBy(order: Order): Trouble | undefined {
    const { starts, isAll } = this.#starts.after(order);
    const about = starts.flatMap(({ open }) => open.flatMap((each) => each.about));
    if (!isAll && this.#meets({ about, addresses: [] })) this.more ??= order;
    for (const start of starts) {
      const finding = this.#findingAfter(start);
      if (finding.status === "failed" || finding.status === "vacuous") return { start, finding };
      if (finding.status === "undecided") this.open ??= { start, finding };
    }
    return undefined;
  }

  #meets(about: Pick<Contest, "about" | "addresses">): boolean {
    return meets(this.#recoverer.footprint, about, this.#context.evaluation);
  }

  #findingAfter(start: Start): Finding {
    const known = this.#findings.get(start.key) ?? this.#ask(start);
    this.#findings.set(start.key, known);
    return known;
  }

  #ask({ evaluation, isRestless }: Start): Finding {
    const finding = this.#judge(this.#recoverer.assertion, { ...this.#context, evaluation });
    if (!isRestless || finding.status !== "passed") return finding;
    const limit = "the site never comes to rest";
    return { ...finding, status: "undecided", headline: `nobody can tell: ${limit}`, limit };
  }
}

/** Sets of addresses that an assertion itself tells from others. */
function addressesIn(assertion: Assertion): readonly Ranges[] {
  const written = (target: Target): readonly Ranges[] => {
    if (target.by !== "addresses") return [];
    const { family, first, last } = target;
    return [[[addressKey({ family, value: first }), addressKey({ family, value: last })]]];
  };
  switch (assertion.kind) {
    case "reach":
      return [...assertion.from.value, ...assertion.to.value].flatMap(({ value }) => written(value));
    case "resolves":
      return assertion.from.value.flatMap(({ value }) => written(value));
    case "policy":
      return [...assertion.policy.from.value, ...assertion.policy.to.value].flatMap(({ value }) => written(value));
    case "lease": {
      const address = assertion.lease.address?.value;
      return address === undefined || address.by === "none" ? [] : written(address);
    }
    case "segment":
      return [];
  }
}

/** Whether an assertion looked at what a contest decides. */
function meets(
  footprint: Footprint,
  { about, addresses }: Pick<Contest, "about" | "addresses">,
  { network }: Evaluation,
): boolean {
  if (footprint.everything) return true;
  const wiring = new Wiring([network]);
  const { stackOf } = directoryOf(network);
  const parts = new Set(
    [...footprint.places, ...[...footprint.links.values()].flat(), ...footprint.ends].map((id) => wiring.partOf(id)),
  );
  const isAsked = [...footprint.asked].some((set) => rangesOverlap(set, addresses));
  return (
    isAsked ||
    about.some((id) => {
      const stack = stackOf.get(id)?.id;
      if (footprint.leases.has(id) || (stack !== undefined && footprint.stacks.has(stack))) return true;
      return stack === undefined && parts.has(wiring.partOf(id));
    })
  );
}

// -- findings ------------------------------------------------------------------------------------------------------

type Broken = { readonly recovery: Recovery; readonly recoverer: Recoverer; readonly context: CheckContext };

function brokenFinding(
  { start, finding }: Trouble,
  needed: readonly Option[],
  { recovery, recoverer: { assertion }, context }: Broken,
): Finding {
  const otherwise = otherwiseAfter(start, context.evaluation);
  return {
    ...finding,
    status: "failed",
    headline: `from dark, ${tellWhen(start, needed)}: ${finding.headline}`,
    help: mendingAfter(start, context.evaluation),
    decidedBy: [
      ...otherwise.map(({ origin, text }) => ({ origin, text })),
      ...finding.decidedBy,
      ...recovers(assertion, `it shall hold however the site is started`),
    ],
    picks: [...needed, ...(finding.picks ?? [])],
    recovery: { ...recovery, starts: start.order, otherwise: otherwise.map(({ text }) => text) },
  };
}

function recovers({ recovers: written }: Assertion, text: string): Finding["decidedBy"] {
  return written === undefined ? [] : [{ origin: { by: "written", span: written.span }, text }];
}

/** "when hub starts after the others", "when everything starts at once", "when started in 3 steps". */
function tellSteps(order: Order): string {
  const [, late = []] = order;
  if (order.length === 1) return "when everything starts at once";
  if (order.length > 2) return `when started in ${order.length} steps`;
  if (late.length <= 3) return `when ${late.join(" and ")} ${late.length === 1 ? "starts" : "start"} after the others`;
  const [early = []] = order;
  return early.length <= 3
    ? `when ${early.join(" and ")} ${early.length === 1 ? "starts" : "start"} before the others`
    : "when started in 2 steps";
}

function openFinding({ start, finding }: Trouble, needed: readonly Option[], recovery: Recovery): Finding {
  return {
    ...finding,
    headline: `from dark, ${tellWhen(start, needed)}: ${finding.headline}`,
    picks: [...needed, ...(finding.picks ?? [])],
    recovery,
  };
}

/** By which order, and what must be taken of what the documents leave open. */
function tellWhen({ order }: Start, needed: readonly Option[]): string {
  return [tellSteps(order), ...(needed.length === 0 ? [] : [`and ${tellPicks(needed)}`])].join(" ");
}

function limitedFinding(limit: string, recovery: Recovery, { assertion, held }: Recoverer): Finding {
  const { witness: _witness, ...rest } = held;
  return {
    ...rest,
    status: "undecided",
    headline: `it holds in all, but ${limit}`,
    limit,
    decidedBy: recovers(assertion, limit),
    recovery,
  };
}
