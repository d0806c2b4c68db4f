/**
 * A prover: one settled site and the private indexes that questions about it share.
 */
import {
  type Alternatives,
  type FateClass,
  type Field,
  type Id,
  type Network,
  NO_NOTES,
  type Notes,
  type Settled,
  type Step,
} from "../network/index.ts";
import { type Aim, aimAt } from "./aim.ts";
import { answerOf, smallestReached } from "./answer.ts";
import { Atlas, type Leg } from "./atlas.ts";
import { beginAll, enterAll, enterIdle, suppliesOf } from "./begin.ts";
import { type Between, type Pairs, waysBetween } from "./between.ts";
import { flowsOf } from "./box.ts";
import { testsOf } from "./flow.ts";
import { permittedBy } from "./followers.ts";
import type { Ground } from "./ground.ts";
import { type LinkAnswer, linkAnswerOf } from "./link-answer.ts";
import { looksOf } from "./looks.ts";
import { Meter } from "./meter.ts";
import type { Choosing } from "./order.ts";
import type { Learned } from "./passage.ts";
import { firstPlaces, inOrder, placesOf } from "./places.ts";
import { type Proof, type Question, STEP_LIMIT } from "./question.ts";
import { Reaches } from "./reaches.ts";
import { type Relevant, relevantTo, type Translating, translatingIn } from "./relevant.ts";
import { type Conditional, RuleList } from "./rules.ts";
import { takeStep } from "./steps.ts";
import { Walk } from "./walk.ts";

/** A walk that has ended, with what is needed to show something of it. */
type Walked = { readonly walk: Walk; readonly choosing: Choosing };

/** Answers questions about one settled site. Indexes are kept between questions; they never change an answer. */
export class Prover {
  readonly #atlas: Atlas;
  readonly #reaches: Reaches;
  readonly #looks: ReadonlySet<Field>;
  /** Some stack lets what belongs to a connection through, or turns its addresses back. */
  readonly #isStateful: boolean;
  readonly #alternatives = new Map<Step, RuleList<Conditional>>();
  readonly #acquaintances = new Map<string, Learned>();
  readonly #upstreamLegs = new Map<Leg, boolean>();
  /** The last question that was walked to its end: what is proved first is asked for its smallest packet next. */
  #last: (Walked & { readonly question: Question }) | undefined;

  constructor(network: Network, settled: Settled) {
    this.#atlas = new Atlas(network, settled);
    this.#reaches = new Reaches(this.#atlas);
    this.#looks = looksOf(network);
    this.#isStateful = isStateful(network, this.#looks);
  }

  /** Moves every packet of the question at once and says what becomes of all of them. `notes` is told what that rests on. */
  prove(asked: Question, notes: Notes = NO_NOTES): Proof {
    const question = inOrder(asked, this.#atlas);
    noteEnds(question, notes);
    const { walk, choosing } = this.#walked(question, false, notes);
    return answerOf(walk, question, choosing);
  }

  /**
   * The smallest packet that reaches the target, over all ways (`order.ts`); undefined: none does within the limit. The first
   * place from which one gets through is found by halving what lies before the first one that the whole walk told of, then all that
   * gets through from there is compared.
   */
  smallest(asked: Question): FateClass | undefined {
    const question = inOrder(asked, this.#atlas);
    const { reached } = this.#walked(question).walk;
    const isPlain = reached.hasPlain;
    // What needs other packets may have them sent at other places: then all before the last one that is needed stay.
    const from = (low: number): number => (isPlain ? low : 0);
    const places = placesOf(question, this.#atlas);
    const known = reached.plainPlaces().flatMap((at) => (places.includes(at) ? [places.indexOf(at) + 1] : []));
    let [low, high] = [0, Math.min(places.length, ...known)];
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      const { walk } = this.#walked(firstPlaces(question, this.#atlas, from(low), middle), isPlain);
      const gets = isPlain ? walk.reached.hasPlain : walk.reached.all().length > 0;
      if (gets) high = middle;
      else low = middle;
    }
    const { walk, choosing } = this.#walked(firstPlaces(question, this.#atlas, from(low), high));
    return smallestReached(walk, choosing);
  }

  /** Which of many ends can begin something with which; undefined: it would take more steps than the limit. */
  between(asked: Between): Pairs | undefined {
    const site = { atlas: this.#atlas, reaches: this.#reaches, notes: NO_NOTES };
    const groundOf = (question: Question, aim: Aim, relevant: Relevant): Ground =>
      this.#groundFor(question, aim, relevant, NO_NOTES);
    return waysBetween(asked, groundOf, site);
  }

  /** Walks a question to its end, or `soon` until something that needs no other packets has reached the target. */
  #walked(question: Question, soon = false, notes: Notes = NO_NOTES): Walked {
    const last = this.#last;
    if (last !== undefined && (notes === NO_NOTES || last.choosing.notes === notes) && isSame(last.question, question))
      return last;
    const walked = this.#walk(question, soon, notes);
    if (!soon) this.#last = { question, ...walked };
    return walked;
  }

  #walk(question: Question, soon: boolean, notes: Notes): Walked {
    const aim = aimAt(question.target, this.#atlas);
    const senders = new Set<Id>(question.senders.map((party) => party.stack));
    const relevant = relevantTo(aim, { atlas: this.#atlas, reaches: this.#reaches, notes }, senders);
    const walk = new Walk(this.#groundFor(question, aim, relevant, notes), takeStep);
    walk.endsSoon = soon;
    this.#begin(walk, question, relevant);
    return { walk, choosing: { atlas: this.#atlas, reaches: this.#reaches, aim, notes } };
  }

  /** What the link layer says of some places. */
  linkAt(ids: readonly Id[]): LinkAnswer {
    return linkAnswerOf(ids, this.#atlas, this.#reaches);
  }

  /** What every answer rests on, whatever was asked: plain values. */
  get common(): Common {
    const mapping = [...this.#atlas.nodes.values()].filter(({ stack }) => stack.mapping !== undefined);
    return {
      looks: [...this.#looks].sort(),
      isStateful: this.#isStateful,
      mapping: mapping.map(({ stack }) => stack.id),
    };
  }

  /** What translations do to addresses; what an answer rests on of that is noted (`Notes.turned`). */
  get translating(): Translating {
    return translatingIn(this.#atlas);
  }

  #groundFor(question: Question, aim: Aim, { destinations, sources }: Relevant, notes: Notes): Ground {
    const asked = new Set(question.packets.flatMap((match) => match.map(({ field }) => field)));
    // Who sends cannot make up what was asked for: that counts, whether or not anything else looks at it.
    const sentAs = (["sourceHardware", "hopLimit", "length"] as const).filter((field) => asked.has(field));
    return {
      atlas: this.#atlas,
      reaches: this.#reaches,
      notes,
      meter: new Meter(question.limitSteps ?? STEP_LIMIT),
      aim,
      permitted: (question.permitted ?? []).map((match) => permittedBy(testsOf(match), aim.addresses)),
      destinations,
      sources,
      looks: sentAs.length === 0 ? this.#looks : new Set([...this.#looks, ...sentAs]),
      flagsMatter: asked.has("tcpFlags") || this.#looks.has("tcpFlags"),
      alternativesOf: (step: Step, when: Alternatives) => this.#alternativesOf(step, when),
      acquaintances: this.#acquaintances,
      facesUpstream: (leg: Leg) => this.#facesUpstream(leg),
    };
  }

  #begin(walk: Walk, question: Question, relevant: Relevant): void {
    const supplies = suppliesOf(question, relevant, this.#isStateful);
    const reach = this.#reaches.ofEntrances(question.entrances);
    const asked = flowsOf(question.packets);
    walk.addAll([...enterAll(walk, reach, asked, supplies), ...beginAll(walk, question, supplies)]);
    walk.run();
    if (walk.reached.all().length > 0 || walk.stopped.all().length > 0) return;
    walk.addAll(enterIdle(walk, reach, supplies));
    walk.run();
  }

  #alternativesOf(step: Step, when: Alternatives): RuleList<Conditional> {
    const known = this.#alternatives.get(step) ?? new RuleList<Conditional>([{ when }], () => "it");
    this.#alternatives.set(step, known);
    return known;
  }

  /** That was noted with the frames that came in by it. */
  #facesUpstream(leg: Leg): boolean {
    const known = this.#upstreamLegs.get(leg);
    if (known !== undefined) return known;
    const found = this.#reaches.of(leg).touches.some((touch) => touch.leg.node.stack.answersFor === "everywhere");
    this.#upstreamLegs.set(leg, found);
    return found;
  }
}

/** Questions about the same packets and target, by the same records, from the same places. */
function isSame(a: Question, b: Question): boolean {
  return (
    a.packets === b.packets &&
    a.target === b.target &&
    a.permitted === b.permitted &&
    a.limitSteps === b.limitSteps &&
    a.entrances.length === b.entrances.length &&
    a.entrances.every((at, index) => at === b.entrances[index]) &&
    a.senders.length === b.senders.length &&
    a.senders.every((party, index) => party === b.senders[index])
  );
}

/** What the answers to all questions about one site at rest rest on. */
export type Common = {
  /** Fields that anything looks at, sorted. */
  readonly looks: readonly Field[];
  /** Whether it matters anywhere that packets belong to a connection. */
  readonly isStateful: boolean;
  /** Ids of stacks that keep one outside endpoint for several connections. */
  readonly mapping: readonly Id[];
};

/** Where packets may begin, and what counts as arriving. */
function noteEnds({ entrances, senders, target }: Question, { link, stack }: Notes): void {
  if (entrances.length > 0) link(entrances);
  for (const id of [...target.interfaces, ...target.upstreams]) link([id]);
  for (const { at } of [...target.segments, ...(target.homes ?? [])]) link([at]);
  for (const party of senders) stack(party.stack);
}

/** Whether it matters anywhere that packets belong to a connection begun before. */
function isStateful({ stacks, tables }: Network, looks: ReadonlySet<Field>): boolean {
  const tracks = stacks.some((stack) =>
    [...stack.local, ...stack.onward, ...stack.sent].some((step) => step.op === "confirm"),
  );
  const translates = tables.some((table) => table.kind === "translate" && table.rules.length > 0);
  return tracks && (translates || looks.has("state") || looks.has("translated"));
}

/** A prover for a settled site. */
export function createProver(network: Network, settled: Settled): Prover {
  return new Prover(network, settled);
}
