/**
 * One network under question. Keeps what questions share: worlds by the links they raise, one prover a world.
 * Answers are pure functions of the network and the question; the caches only save work.
 */
import { isAlike } from "../diagnose/index.ts";
import {
  type FateClass,
  type Id,
  isBeyond,
  type Link,
  type Network,
  type Pick as Option,
  type Settled,
} from "../network/index.ts";
import {
  type Between,
  type Common,
  createProver,
  type LinkAnswer,
  type Pairs,
  type Proof,
  type Question,
  type Translating,
} from "../prove/index.ts";
import { type CaptureSink, type OuterWays, outerWaysOf, type ProbeRequest, type Tally } from "../simulate/index.ts";
import { type ConfirmedProof, joined, onlyAt } from "./confirmed.ts";
import { EnginesDisagree } from "./disagree.ts";
import { type Exchange, type GoingOn, keyOf } from "./exchange.ts";
import { type Failed, type FailingPart, withoutParts } from "./failing.ts";
import { Footprint } from "./footprint.ts";
import { type Leases, noLeases } from "./leases.ts";
import { LookBook } from "./looks.ts";
import { eachOutcome, outcomesOf } from "./outcomes.ts";
import { Provers, plugKey } from "./provers.ts";
import type { PluggedWorld, ProverMaker, Proving } from "./proving.ts";
import { type Alone, replay } from "./replay.ts";
import type { Touching, Upkeep } from "./upkeep.ts";
import { type Day, type World, type Worlds, worldsOf } from "./worlds.ts";

/** The ways of a tunnel's outer packets, an outcome each; `limit` is set when some were left out. */
export type OuterOutcomes = {
  /** From each end to the other. */
  readonly outcomes: readonly OuterWays["ways"][];
  /** Why some were left out. */
  readonly limit?: string;
};

/** Counted work of all questions so far: the same on every machine. `events` are those of exchanges and leases. */
export type Work = Tally & {
  /** Worlds settled. */
  worlds: number;
  /** Questions proved. */
  proofs: number;
  /** Steps of those proofs. */
  proverSteps: number;
  /** Witnesses replayed. */
  replays: number;
};

/** Between upstreams nothing carries what crosses: those are links like others. */
function hasTunnels({ stacks }: Network): boolean {
  return stacks.some(({ interfaces }) => interfaces.some(({ id, tunnel }) => tunnel !== undefined && !isBeyond(id)));
}

/** An exchange that was asked before, and what it rests on. */
type Known = { readonly exchange: Exchange; readonly footprint: Footprint };

/** What failed, and what the site was before. */
type Failures = Omit<Day, "up"> & Pick<Failed, "gone"> & { readonly work?: Work };

const NO_FAILURES: Failures = { down: [], gone: new Set() };

/** Questions to one network. */
export class Evaluation {
  readonly network: Network;
  /** Stacks of stations that failed themselves, or lost all their own cables. */
  readonly gone: ReadonlySet<Id>;
  /**
   * What clients of the site left alone are lent, by the text of on-demand links: as it was found, or as whoever knows that it did not
   * change (`Changes`) put it here.
   */
  readonly leases: Map<string, Leases> = new Map();
  /** What all of it took so far, questions to the site without some of its parts included. */
  readonly work: Work;
  readonly #worlds = new Map<string, Worlds>();
  #first: World | undefined;
  #footprint = new Footprint();
  readonly #createProver: ProverMaker;
  readonly #failed: Omit<Failures, "gone" | "work">;
  readonly #isTraced: boolean;
  readonly #exchanges = new Map<World, Map<string, Known>>();
  readonly #outer = new Map<World, Map<Id, OuterOutcomes>>();
  readonly #provers: Provers;
  #looks: LookBook | undefined;

  /** `proverMaker`: for tests that plant a wrong proof. Default: the prover. `failures`: what failed. Default: nothing. */
  constructor(network: Network, proverMaker: ProverMaker = createProver, failures: Failures = NO_FAILURES) {
    this.network = network;
    this.#createProver = proverMaker;
    this.#provers = new Provers(network, proverMaker);
    const { gone, work, ...failed } = failures;
    this.gone = gone;
    this.work = work ?? { events: 0, worlds: 0, proofs: 0, proverSteps: 0, replays: 0 };
    this.#failed = failed;
    // What another prover looks at nobody knows; of tunnels no notes are taken.
    this.#isTraced = proverMaker === createProver && !hasTunnels(network);
  }

  /** Whether some parts of the site failed. */
  get hasFailures(): boolean {
    return this.#failed.before !== undefined;
  }

  /** Whether it is the whole site as it comes to rest: nothing failed, and it is no moment of a course. */
  get isLeftAlone(): boolean {
    const { before, moment, down } = this.#failed;
    return before === undefined && moment === undefined && down.length === 0;
  }

  /** Questions to the site without some of its parts, which failed while it was up. */
  without(parts: readonly FailingPart[]): Evaluation {
    const { worlds } = this.worlds();
    const { network, ...failed } = withoutParts(this.network, worlds, parts);
    const before = (picks: readonly Option[]): Settled | undefined => {
      const asMuch = worlds.find((world) => world.picks.every((pick) => picks.some((each) => isAlike(each, pick))));
      return (asMuch ?? worlds[0])?.settled;
    };
    const evaluation = new Evaluation(network, this.#createProver, { ...failed, before, work: this.work });
    // What is asked of the site without them looks at pieces of the same site.
    evaluation.#looks = this.#looks;
    evaluation.#first = worlds[0];
    return evaluation;
  }

  /** Takes down from now on what every question looks at (`looks.ts`). */
  watch(): LookBook {
    this.#looks ??= new LookBook(this.network);
    return this.#looks;
  }

  /** What is taken down; absent: nobody watches. */
  get looks(): LookBook | undefined {
    return this.#looks;
  }

  /** Whether what questions look at can be told: of tunnels no notes are taken. */
  get isTraced(): boolean {
    return this.#isTraced;
  }

  /** What the questions asked now look at. */
  get footprint(): Footprint {
    return this.#footprint;
  }

  /** Asks questions and answers with what they looked at beside what was made of them. */
  tracing<Value>(ask: () => Value): readonly [Value, Footprint] {
    const outer = this.#footprint;
    const footprint = new Footprint();
    footprint.everything = !this.#isTraced;
    this.#footprint = footprint;
    try {
      return [ask(), footprint];
    } finally {
      this.#footprint = outer;
    }
  }

  /** Lets go of all that is kept between questions: they take longer again, and are answered as before. */
  forget(): void {
    for (const kept of [this.#worlds, this.#exchanges, this.#outer, this.#provers, this.leases]) kept.clear();
    this.#first = undefined;
  }

  /** What every proof in a world rests on. */
  commonOf(world: World): Common | undefined {
    return this.#provers.in(world).common;
  }

  /** What translations do to addresses in a world; undefined: nobody can tell. */
  translatingIn(world: World): Translating | undefined {
    return this.#provers.in(world).translating;
  }

  /** What the link layer of a world says of some places; undefined: nobody can tell. */
  linkAt(world: World, ids: readonly Id[]): LinkAnswer | undefined {
    return this.#provers.in(world).linkAt?.(ids);
  }

  /** A world with something plugged into some places, and what every proof there rests on; undefined: nothing comes up by that. */
  pluggedAt(world: World, places: readonly Id[]): PluggedWorld | undefined {
    const plugged = this.#provers.pluggedIn(world, places);
    if (plugged === undefined) return undefined;
    const { network, settled, prover } = plugged;
    const { common, translating } = prover;
    return { network, settled, common, translating, linkAt: (ids) => prover.linkAt?.(ids) };
  }

  /** Who can begin something with whom in a world, all pairs at once; `Provers.between`. */
  between(world: World, asked: Between): readonly (Pairs | undefined)[] {
    return this.#provers.between(world, asked);
  }

  /** All worlds with these on-demand links raised. */
  worlds(up: readonly Id[] = []): Worlds {
    const key = up.join(" ");
    this.#footprint.ups.set(key, up);
    const known = this.#worlds.get(key);
    if (known !== undefined) return known;
    // Who takes down what is looked at wants to be told of this site.
    const leases = (this.#looks === undefined ? this.leases.get(key) : undefined) ?? noLeases();
    const found = worldsOf(this.network, { up, ...this.#failed }, { tally: this.work, like: this.#first, leases });
    this.#looks?.take(leases.looked);
    if (this.#isTraced && this.isLeftAlone) this.leases.set(key, leases);
    this.#first ??= found.worlds[0];
    this.work.worlds += found.worlds.length;
    this.#worlds.set(key, found);
    return found;
  }

  /** Every outcome of an exchange in one world; `capture` gets the frames of each, one after the other. */
  exchange(world: World, request: ProbeRequest, capture?: CaptureSink): Exchange {
    if (capture !== undefined) return outcomesOf(this.network, world, request, { capture, tally: this.work });
    const found = this.#known(world, request);
    this.#footprint.add(found.footprint);
    return found.exchange;
  }

  #known(world: World, request: ProbeRequest): Known {
    const known = this.#exchanges.get(world) ?? new Map<string, Known>();
    this.#exchanges.set(world, known);
    const key = keyOf(request);
    const found = known.get(key) ?? this.#ask(world, request);
    known.set(key, found);
    return found;
  }

  /** The same where it is made again and again: at a moment of a site over time with what devices remember then. */
  converse(world: World, request: ProbeRequest): Exchange {
    const fresh = this.exchange(world, request);
    const { moment } = this.#failed;
    if (moment?.converse === undefined || world !== moment.world) return fresh;
    const notes = new Footprint();
    const { exchange, isPassing } = moment.converse({ request, fresh }, { tally: this.work, notes });
    notes.passing = isPassing;
    this.#footprint.add(notes);
    return exchange;
  }

  /** Somebody has it open for himself while it gets through; nothing where nothing is remembered. */
  keepOpen(world: World, request: ProbeRequest, owner: string): void {
    const { moment } = this.#failed;
    if (moment?.converse === undefined || moment.upkeep === undefined || world !== moment.world) return;
    const kept = moment.upkeep.of(request, owner);
    if (kept !== undefined) {
      this.#footprint.add(kept);
      return;
    }
    const notes = new Footprint();
    notes.everything = !this.#isTraced;
    const { exchange: fresh, footprint } = this.#known(world, request);
    notes.add(footprint);
    const { isPassing, isSteady } = moment.converse({ request, fresh, owner }, { tally: this.work, notes });
    notes.passing = isPassing;
    this.#footprint.add(notes);
    moment.upkeep.keep(request, owner, isSteady ? notes : undefined);
  }

  /** What goes on of an exchange that somebody has open for himself, in every outcome. */
  goingOn(world: World, request: ProbeRequest, owner: string): readonly GoingOn[] {
    const { moment } = this.#failed;
    if (moment?.goingOn === undefined || world !== moment.world) return [];
    moment.upkeep?.keep(request, owner, undefined);
    const notes = new Footprint();
    const found = moment.goingOn(request, owner, { tally: this.work, notes });
    this.#footprint.add(notes);
    return found;
  }

  /** What hosts have open at this moment of a site over time; undefined: nothing is remembered here. */
  get upkeep(): Upkeep | undefined {
    return this.#failed.moment?.upkeep;
  }

  /** Ports that rules of the site tell apart at some time, in order. */
  get toldApart(): readonly bigint[] {
    return this.#failed.moment?.toldApart ?? [];
  }

  /** Whether rules of the site look at source ports at some time. */
  get tellsSourcePorts(): boolean {
    return this.#failed.moment?.tellsSourcePorts ?? false;
  }

  /** The site was another one before: of what is open all that this touches is asked anew. */
  outdate(changes: Touching): void {
    this.#failed.moment?.upkeep?.outdate(changes);
  }

  /** What `converse` was asked for somebody alone, up to this moment of a site over time; undefined: nothing is remembered here. */
  keptBy(owner: string): readonly ProbeRequest[] | undefined {
    return this.#failed.moment?.keptBy?.(owner);
  }

  #ask(world: World, request: ProbeRequest): Known {
    const footprint = new Footprint();
    const exchange = outcomesOf(this.network, world, request, { tally: this.work, notes: footprint });
    this.#looks?.take(footprint);
    this.#looks?.went(exchange.outcomes);
    return { exchange, footprint };
  }

  /** The ways of the outer packets of a tunnel that is up, in every outcome. */
  outerWays(world: World, link: Link): OuterOutcomes {
    const known = this.#outer.get(world) ?? new Map<Id, OuterOutcomes>();
    this.#outer.set(world, known);
    const found = known.get(link.id) ?? this.#askOuter(world, link);
    known.set(link.id, found);
    return found;
  }

  #askOuter(world: World, link: Link): OuterOutcomes {
    const { runs, ...rest } = eachOutcome(world, (picks) =>
      outerWaysOf(link, this.network, world.settled, { picks, tally: this.work }),
    );
    return { outcomes: runs.map(({ run }) => run.ways), ...rest };
  }

  /** Proves a question in one world and replays every witness. @throws EnginesDisagree */
  prove(world: World, question: Question): ConfirmedProof {
    const confirmed = this.#confirm(this.network, world, this.#provers.in(world), question);
    const plugged = this.#provers.pluggedIn(world, question.entrances);
    if (plugged === undefined) return confirmed;
    this.#footprint.plugs.set(plugKey(question.entrances), question.entrances);
    return joined(
      confirmed,
      this.#confirm(plugged.network, { ...world, settled: plugged.settled }, plugged.prover, question),
    );
  }

  /** The smallest packet that reaches the target in one world, replayed; undefined: none is known. @throws EnginesDisagree */
  smallest(world: World, question: Question): FateClass | undefined {
    const found = this.#provers.in(world).smallest?.(question);
    if (found !== undefined) return this.#confirmed(this.network, world, found, question);
    const plugged = this.#provers.pluggedIn(world, question.entrances);
    const other = plugged?.prover.smallest?.(question);
    if (plugged === undefined || other === undefined) return undefined;
    return this.#confirmed(plugged.network, { ...world, settled: plugged.settled }, other, question);
  }

  #confirmed(network: Network, world: World, found: FateClass, { target }: Question): FateClass | undefined {
    // Stacks on its way are those that may have to forget something.
    const looked = found.path.map(({ at }) => at);
    const proof: Proof = { reached: [found], permitted: [], stopped: [], looked, steps: 0 };
    const { disagreements, replayed, proof: seen, unknown } = replay(network, world, proof, target);
    this.work.replays += replayed;
    // What rests on others was told by the proof, and seen to get there: by another one of its examples, or after a wait.
    if (disagreements.length > 0 && found.before.length === 0) throw new EnginesDisagree(disagreements);
    return unknown.length + disagreements.length > 0 ? undefined : (seen.reached[0] ?? found);
  }

  /** A proof whose witnesses were all replayed. @throws EnginesDisagree */
  #confirm(network: Network, world: World, prover: Proving, question: Question): ConfirmedProof {
    const notes = this.#looks === undefined ? this.#footprint : new Footprint();
    const proof = prover.prove(question, notes);
    const alone: Alone = (at) => prover.prove(onlyAt(question, at), notes);
    const { target } = question;
    const { disagreements, replayed, proof: seen, untried } = replay(network, world, proof, target, alone, notes);
    if (disagreements.length > 0) throw new EnginesDisagree(disagreements);
    if (notes !== this.#footprint) {
      this.#footprint.add(notes);
      this.#looks?.take(notes);
      this.#looks?.passed(proof.looked);
    }
    this.work.proofs++;
    this.work.proverSteps += proof.steps;
    this.#footprint.steps = Math.max(this.#footprint.steps, proof.steps);
    this.work.replays += replayed;
    return { ...seen, replayed, untried };
  }
}
