/**
 * Names in one world: who is asked for them, whom that one asks in turn, and so on until somebody knows. Each hop is an exchange on
 * port 53 that is judged as one of `connects` is, begun by whoever asks. Resolvers are asked in their order, so one that works is enough
 * where nobody before it may answer otherwise (`asked-in-turn.ts`); an answer from beyond the site is final. Servers and clients speak
 * TCP too (RFC 7766 section 5, from memory): where only that fails, it is told and nothing more, since most answers fit into UDP.
 */
import { addressKey, type Family, formatAddress, keyAddress, type Service, single } from "../address/index.ts";
import { isSameSpan, type Origin } from "../diagnose/index.ts";
import type { ReachAssertion, ResolvesAssertion } from "../document/index.ts";
import { directoryOf, type World } from "../evaluate/index.ts";
import { deviceOf, type Id, type Resolve, type Service as Running, type Stack } from "../network/index.ts";
import { deviceName, tellInVain } from "../result/index.ts";
import {
  type Ending,
  endingsOf,
  inTurn,
  isAnswer,
  judged,
  opened,
  type Trial,
  trialOf,
  wrapped,
} from "./asked-in-turn.ts";
import { helpWithoutResolver, type Told, unheardAt, withTelling } from "./asked-in-vain.ts";
import type { CheckContext } from "./context.ts";
import { worstAmong } from "./context.ts";
import type { Source } from "./exchange.ts";
import { isMeantToSpeak } from "./families.ts";
import { keepersOf, nearestKept, plainName, resolversIn } from "./kept-names.ts";
import { type Answer, answerIn, type Question, withoutHead } from "./question.ts";
import { ownersOf } from "./rest.ts";
import { afterAsking, arrivalsIn, joined, leavesSite, ledTo, ownersWithin } from "./whoever-answers.ts";

/** One who is asked, on whose behalf by now. */
type Asking = {
  readonly question: Question;
  readonly source: Source;
  readonly server: Told;
  /** That in words. */
  readonly asks: string;
  /** Resolvers that asked before. */
  readonly chain: readonly Id[];
};

const PORT: Service["ports"] = single(53n);
const BY_UDP: Service = { protocol: 17, ports: PORT };
const BY_TCP: Service = { protocol: 6, ports: PORT };

/** What a look-up is asked in. */
export type Surroundings = {
  /** The assertion. */
  readonly assertion: ResolvesAssertion;
  /** The world. */
  readonly world: World;
  /** What every assertion has. */
  readonly context: CheckContext;
  /** On-demand links that are up in it. */
  readonly up: readonly Id[];
  /** Is told of every exchange that is asked. Default: nobody is. */
  readonly onAsk?: (question: Question, world: World) => void;
};

/** Look-ups in one world; what is behind a resolver is asked once. */
export class Resolving {
  readonly #here: Surroundings;
  readonly #name: string | undefined;
  /** Addresses in words, with whoever has them. */
  readonly #words = new Map<bigint, string>();
  /** What becomes of it behind a resolver that a client asked, by stack. */
  readonly #behind = new Map<Id, Trial>();
  /** What becomes of it behind those that one search has come by. */
  readonly #searched = new Map<Id, Trial>();

  constructor(here: Surroundings) {
    this.#here = here;
    this.#name = here.assertion.looksUp === undefined ? undefined : plainName(here.assertion.looksUp.value);
    // Who knows which name and asks whom is read of all resolvers of the site.
    here.context.evaluation.footprint.names = true;
  }

  /** What becomes of a source that asks these, in their order; `question` is what is told of it as a whole. */
  ask(source: Source, servers: readonly Told[]): Trial {
    return this.#askAll(source, servers, []);
  }

  /** A source that runs a resolver and was told nobody asks that one. */
  askItself(source: Source, own: Resolve & Running): Trial {
    const stack = this.#stack(own.stack);
    const trial = this.#behindResolver(own, stack, []);
    return { ...trial, told: joined(`${source.label} asks itself`, trial.told) };
  }

  /** The resolver that runs on a stack. */
  resolverOn(stack: Id): (Resolve & Running) | undefined {
    const { network, footprint } = this.#here.context.evaluation;
    footprint.listeners(stack);
    return directoryOf(network)
      .servicesOf.get(stack)
      ?.find((service) => service.kind === "resolve");
  }

  #stack(id: Id): Stack {
    const stack = directoryOf(this.#here.context.evaluation.network).stacks.get(id);
    if (stack === undefined) throw new Error(`no stack ${id}`);
    return stack;
  }

  // -- one after the other -----------------------------------------------------------------------------------------

  #askAll(source: Source, servers: readonly Told[], chain: readonly Id[]): Trial {
    const asked = this.#speaking(source, servers);
    const trials = asked.map((server) => this.#askOne(source, server, chain));
    const endings = inTurn(trials);
    const { status, shown } = judged(endings);
    if (status === "undecided") return { ...shown, status, endings };
    const at = trials.findIndex((trial) => trial.status === "passed" || endingsOf(trial).every(isAnswer));
    if (at < 0) return { ...shown, status, endings };
    const silent = trials.flatMap((trial, index) => {
      const server = asked[index];
      const isSilent = trial.status === "failed" && !endingsOf(trial).some(isAnswer);
      return server === undefined || !isSilent ? [] : [this.#inVain(source, server, trial)];
    });
    const told = status === "passed" ? (trials[at] ?? shown) : shown;
    const maybe = endings.flatMap(({ kind, open, shown: { assumed } }) => (kind === "right" && open ? assumed : []));
    const assumed = [...told.assumed, ...maybe];
    return { ...told, status, endings, assumed, alone: [...silent, ...(told.alone ?? [])] };
  }

  /** Of a server that a name means over both versions of IP, without the address that it is not to be asked at. */
  #speaking(source: Source, servers: readonly Told[]): readonly Told[] {
    const isMeant = ({ address }: Told): boolean =>
      isMeantToSpeak(source, keyAddress(address).family, this.#here.context.evaluation);
    return servers.filter(
      (server) =>
        isMeant(server) ||
        !servers.some(
          (other) => other !== server && isSameSpan(other.origin.span, server.origin.span) && isMeant(other),
        ),
    );
  }

  #inVain(source: Source, server: Told, trial: Trial): string {
    this.#here.context.evaluation.footprint.reasons = true;
    const named = this.#named(server);
    const head = `${source.label} asks ${named}`;
    const text = trial.text.startsWith(head)
      ? trial.text.slice(head.length).replace(/^(?:: |, (?:and )?)/, "")
      : trial.text;
    return tellInVain({ who: source.label, server: named, reason: text });
  }

  #askOne(source: Source, server: Told, chain: readonly Id[]): Trial {
    const asks = `${source.label} asks ${this.#named(server)}`;
    const [question, answer] = this.#exchange(source, server, BY_UDP);
    const { outcomes = [], status, outcome } = answer;
    const lost = status === "passed" || outcome === undefined ? [] : [outcome];
    const arrived = arrivalsIn(outcomes);
    const further = arrived.map((arrival) => {
      const behind = this.#behindAnswer(question, { ...arrival, asked: server }, chain);
      const others = arrived.filter((other) => other !== arrival).map((other) => other.outcome);
      return afterAsking(asks, behind, arrival.outcome, [...others, ...lost]);
    });
    if (status !== "passed") return this.#mayFail(answer, further, { question, source, server, asks, chain });
    const worst = worstAmong(further);
    const aside = worst.status === "passed" ? this.#overTcp(source, server) : [];
    return {
      ...worst,
      results: [...outcomes.map(({ result }) => result), ...further.flatMap(({ results }) => results.slice(1))],
      assumed: further.flatMap(({ assumed }) => assumed),
      endings: further.flatMap(endingsOf),
      alone: [...aside, ...further.flatMap(({ alone = [] }) => alone)],
    };
  }

  /** An exchange that fails, in some outcome or for all that anybody knows; `answered`: what comes of it in others. */
  #mayFail(answer: Answer, answered: readonly Trial[], asking: Asking): Trial {
    const { question, source, server, asks } = asking;
    const text = `${asks}: ${withoutHead(answer)}`;
    const bare = this.#withoutResolver(answer);
    const place = { network: this.#here.context.evaluation.network, settled: this.#here.world.settled };
    const decidedBy = withTelling({ decidedBy: answer.decidedBy, who: source.label, server, bare }, place);
    const help = answer.help ?? (bare === undefined ? undefined : helpWithoutResolver(bare));
    const shown = { ...answer, text, told: asks, decidedBy };
    const lost = trialOf(question, help === undefined ? shown : { ...shown, help });
    const isOpen = answer.status === "undecided";
    // Where what was tried works and a limit was reached, the rest may come to anything.
    const isCut = answer.outcome !== undefined && answer.outcomes?.includes(answer.outcome) === true;
    if (isOpen && isCut) return { ...lost, endings: [...answered.flatMap(endingsOf), ...endingsOf(lost)] };
    const silent: Ending = { kind: "silent", shown: lost, ...(isOpen ? { open: lost } : {}) };
    const maybe = isOpen || answer.isOpenElsewhere === true ? this.#ifAnswered(lost, asking) : [];
    return { ...lost, endings: [...answered.flatMap(endingsOf), ...maybe, silent] };
  }

  /** The stack that was asked in vain, where it runs no resolver at all. */
  #withoutResolver(answer: Answer): Id | undefined {
    const at = unheardAt(answer);
    return at === undefined || this.resolverOn(at) !== undefined ? undefined : at;
  }

  /** What would come of an answer, where nobody can tell whether there is one. */
  #ifAnswered(lost: Trial, { question, server, asks, chain }: Asking): readonly Ending[] {
    const { evaluation } = this.#here.context;
    // Who it may be led to is read of all translations.
    evaluation.footprint.reasons = true;
    const { settled } = this.#here.world;
    const arrivals = lost.outcome === undefined ? [] : arrivalsIn([lost.outcome]);
    const led = ledTo(server.address, evaluation.network);
    const whoever = arrivals.length > 0 ? arrivals : ownersWithin(led, settled);
    const isBeyond = arrivals.length === 0 && leavesSite(led, settled);
    const trials = [
      ...whoever.map((each) => this.#behindAnswer(question, { ...each, asked: server }, chain)),
      ...(isBeyond ? [this.#beyond(question, server)] : []),
    ];
    // Who may have an address of the site that nobody has, nobody can tell.
    if (trials.length === 0) return endingsOf(lost);
    const wrap = (trial: Trial): Trial => afterAsking(asks, trial);
    return opened(wrapped(trials.flatMap(endingsOf), wrap), lost);
  }

  /** The same by TCP, told where it fails. */
  #overTcp(source: Source, server: Told): readonly string[] {
    const [, answer] = this.#exchange(source, server, BY_TCP);
    if (answer.status === "passed") return [];
    this.#here.context.evaluation.footprint.reasons = true;
    const reason = `${withoutHead(answer)}; answers too long for UDP do not come`;
    return [tellInVain({ who: source.label, server: `${this.#named(server)} by tcp/53`, reason })];
  }

  #exchange(source: Source, { address, origin }: Told, service: Service): readonly [Question, Answer] {
    const { assertion, world, context, onAsk } = this.#here;
    const destination = keyAddress(address);
    const label = formatAddress(destination);
    const words = service === BY_UDP ? "udp/53" : "tcp/53";
    const question: Question = {
      source,
      destination: { label, address: destination },
      service,
      isAnyones: true,
      labels: { from: source.label, to: label, service: words },
    };
    context.evaluation.footprint.owners(single(address));
    onAsk?.(question, world);
    return [question, answerIn(world, question, exchangeAsked(assertion, origin), context)];
  }

  /** An address with the device that has it. */
  #named({ address }: Told): string {
    const text = formatAddress(keyAddress(address));
    const known = this.#words.get(address);
    if (known !== undefined) return known;
    // Several may have one link-local address, each on another link.
    const [owner, ...others] = new Set(
      ownersOf(keyAddress(address), this.#here.world.settled).map(({ stack }) => stack),
    );
    const words = owner === undefined || others.length > 0 ? text : `${text} (${deviceName(owner)})`;
    this.#words.set(address, words);
    return words;
  }

  // -- whoever answered --------------------------------------------------------------------------------------------

  #behindAnswer(
    question: Question,
    { device, address, asked }: { readonly device: Id; readonly address: bigint; readonly asked: Told },
    chain: readonly Id[],
  ): Trial {
    const { network } = this.#here.context.evaluation;
    const stack = directoryOf(network).stackAt.get(device);
    if (stack === undefined || stack.answersFor === "everywhere") return this.#beyond(question, asked);
    const own = this.resolverOn(stack.id);
    if (own !== undefined && this.#listensAt(own, address)) return this.#behindResolver(own, stack, chain);
    const assumed = [`${deviceName(device)} is taken to know every name, since the plan does not say whom it asks`];
    return trialOf(question, { status: "passed", text: "", told: "", decidedBy: [], assumed });
  }

  #listensAt({ listen }: Resolve, address: bigint): boolean {
    const legs = this.#here.world.settled.stacks.flatMap(({ interfaces }) => interfaces);
    return legs.some(
      (leg) => listen.includes(leg.interface) && leg.addresses.some((each) => addressKey(each) === address),
    );
  }

  /** The internet knows every name but those that the site keeps to itself. */
  #beyond(question: Question, { origin }: Told): Trial {
    const name = this.#name;
    const [keeper] = name === undefined ? [] : keepersOf(name, this.#here.context.evaluation.network);
    if (name === undefined || keeper === undefined)
      return trialOf(question, { status: "passed", text: "", told: "", decidedBy: [], assumed: this.#takenToKnow() });
    const text = `beyond the site nobody has \`${name}\`, which ${deviceOf(keeper.stack)} knows`;
    const decidedBy = [
      { origin, text },
      { origin: keeper.origin, text: `${deviceOf(keeper.stack)} has the name` },
    ];
    const help = `let whoever forwards there ask ${deviceOf(keeper.stack)}, or know the name itself`;
    const shown = trialOf(question, { status: "failed", text, told: "", decidedBy, help });
    return { ...shown, endings: [{ kind: "wrong", shown }] };
  }

  #takenToKnow(): readonly string[] {
    if (this.#name === undefined) return [];
    const near = nearestKept(this.#name, this.#here.context.evaluation.network);
    return [
      `the internet is taken to know \`${this.#name}\`${near === undefined ? "" : `, though \`${near}\` is a name of the site`}`,
    ];
  }

  /**
   * In one search each resolver is asked once, so that however they forward to one another it ends soon. What one of them came to on its
   * way round a circle holds for this search alone: whoever is in the circle is still looking for another way out.
   */
  #behindResolver(own: Resolve & Running, stack: Stack, chain: readonly Id[]): Trial {
    if (chain.length === 0) this.#searched.clear();
    const known = chain.length === 0 ? this.#behind.get(stack.id) : this.#searched.get(stack.id);
    const found = known ?? this.#forwarded(own, stack, chain);
    if (!chain.includes(stack.id)) this.#searched.set(stack.id, found);
    if (chain.length === 0) this.#behind.set(stack.id, found);
    return found;
  }

  #forwarded({ forward, records, lent, origin }: Resolve & Running, stack: Stack, chain: readonly Id[]): Trial {
    const label = deviceName(stack.id);
    const source: Source = {
      stack: stack.id,
      interfaces: stack.interfaces.map(({ id }) => id),
      label,
      up: this.#here.up,
    };
    const question = wholeQuestion(source, undefined);
    const isIts = ({ name }: { readonly name: string }): boolean => plainName(name) === this.#name;
    const isLent = lent.some(isIts);
    if (isLent || records.some(isIts)) {
      const assumed = isLent ? [`${label} is taken to learn which address \`${this.#name}\` gets`] : [];
      return trialOf(question, { status: "passed", text: "", told: `${label} has it`, decidedBy: [], assumed });
    }
    if (chain.includes(stack.id)) return this.#circle(question, [...chain.slice(chain.indexOf(stack.id)), stack.id]);
    if (forward.length === 0) return this.#knowsNobody(question, label, origin);
    return this.#askAll(source, forward, [...chain, stack.id]);
  }

  #knowsNobody(question: Question, label: string, { span }: Origin): Trial {
    const { network } = this.#here.context.evaluation;
    const wanted: Origin = { by: "absent", wanted: "`forward` of this resolver", span };
    const nearest = this.#name === undefined ? undefined : nearestKept(this.#name, network);
    const lacks = this.#name === undefined ? "" : ` does not know \`${this.#name}\` and`;
    const text = `${label}${lacks} has nobody to forward to`;
    const help =
      nearest === undefined || this.#name === undefined || keepersOf(this.#name, network).length > 0
        ? `write \`forward\` with a resolver that ${label} can ask`
        : `try \`${nearest}\`, or write \`forward\` with a resolver that ${label} can ask`;
    return trialOf(question, { status: "failed", text, told: "", decidedBy: [{ origin: wanted, text }], help });
  }

  #circle(question: Question, stacks: readonly Id[]): Trial {
    const names = stacks.slice(0, -1).map(deviceName);
    const [only = ""] = names;
    const text =
      names.length === 1
        ? `${only} forwards to itself`
        : `${[...names, only].join(" to ")}: they forward to one another in a circle`;
    const lines = resolversIn(this.#here.context.evaluation.network).filter(({ stack }) => stacks.includes(stack));
    const decidedBy = lines.flatMap(({ forward, origin }) => [{ origin: forward[0]?.origin ?? origin, text }]);
    const help = "let one of them forward to a resolver outside of the circle";
    return trialOf(question, { status: "failed", text, told: "", decidedBy, help });
  }
}

/** The question of one source as a whole: to whomever it was told. */
export function wholeQuestion(source: Source, family: Family | undefined): Question {
  return {
    source,
    destination: { label: "its resolvers" },
    service: BY_UDP,
    labels: { from: source.label, to: "its resolvers", service: "udp/53" },
    ...(family === undefined ? {} : { family }),
  };
}

/** One hop as an assertion; the place of whom it is sent to is the line that says so. */
function exchangeAsked({ name, span, from, expect }: ResolvesAssertion, told: Origin): ReachAssertion {
  const to = { value: [], span: told.span };
  return { kind: "reach", name, span, from, to, expect: { value: "connects", span: expect.span } };
}
