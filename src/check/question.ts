/**
 * One question of `connects` or `arrives`: one source, one target, one service, asked in every outcome of what the
 * documents leave open. A failure says under which picks, where under others it would work.
 */
import type { Family, Service } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { ReachAssertion } from "../document/index.ts";
import type { Evaluation, Outcome, World } from "../evaluate/index.ts";
import type { Party, PathStep, Pick } from "../network/index.ts";
import { deviceName, type Evidence, type Packet, tellAlone, tellFate, tellPicks } from "../result/index.ts";
import type { ProbeRequest, ProbeResult } from "../simulate/index.ts";
import { packetOf } from "./asked-packet.ts";
import { type Capacity, capacityOf, shortageOf, tighter, UNLIMITED } from "./bandwidth.ts";
import type { CheckContext } from "./context.ts";
import { addressesFor, type Concrete, type Destination, requestsTo, type Source } from "./exchange.ts";
import { becauseOf, failureText, linesFor, missingUplink } from "./failure-text.ts";
import { isBareEnd, isMeantFor, isServiceOf, lackOver, missingLease, tellLack } from "./families.ts";
import { nobodyBeyond } from "./nobody-beyond.ts";
import { prefixHelp } from "./prefix-help.ts";
import { stackIn } from "./rest.ts";
import { routedReasons } from "./routed-reason.ts";
import { strayFault } from "./stray.ts";
import { wayFault } from "./way.ts";

/** One source, one target, one service. */
export type Question = {
  /** Who begins. */
  readonly source: Source;
  /** Who is meant. */
  readonly destination: Destination;
  /** On what; absent: an echo. */
  readonly service: Service | undefined;
  /** Over which version of IP alone. Default: over either. */
  readonly family?: Family;
  /** Whoever takes what is sent there is as good as whoever has the address. Default: only the latter is meant. */
  readonly isAnyones?: true;
  /** The first three in words. */
  readonly labels: { readonly from: string; readonly to: string; readonly service: string };
};

/** How one question ended, with what to show for it. */
export type Answer = {
  /** How it ended. */
  readonly status: "passed" | "failed" | "undecided";
  /** What was asked. */
  readonly question: Question;
  /** A sentence; empty where it passed. */
  readonly text: string;
  /** Deciding lines, the primary one first. */
  readonly decidedBy: readonly Evidence[];
  /** The outcome shown; absent where there was no address to try. */
  readonly outcome?: Outcome;
  /** Outcomes at the address shown in which it works: where it passed, all of them. */
  readonly outcomes?: readonly Outcome[];
  /** It fails in some outcomes there, and of others nobody can tell. */
  readonly isOpenElsewhere?: true;
  /** Of its way as much as means anything. Default: all of it, and the way back. */
  readonly way?: readonly PathStep[];
  /** The request of that outcome. */
  readonly packet?: Packet;
  /** Choices under which it is so; empty: under all. */
  readonly picks: readonly Pick[];
  /** What kept it undecided. */
  readonly limit?: string;
  /** What to do next. Default: what the lines ask for. */
  readonly help?: string;
  /** What devices remember that is so no more, where that alone breaks it. */
  readonly remembered?: string;
  /** What becomes of connections that were open before, where a new one does not get through. */
  readonly goesOn?: string;
  /** What the ways carry in all outcomes, where a rate was asked for. */
  readonly capacity?: Capacity;
  /** Where it works over one version of IP alone, though it was to work over the other one, too: that in a sentence. */
  readonly alone?: readonly string[];
};

/** `crew to archive on tcp/445`, and over which version of IP where one was asked for. */
export function headOf({ labels, family }: Question): string {
  return `${labels.from} to ${labels.to} on ${labels.service}${family === undefined ? "" : ` over IPv${family}`}`;
}

/** Asks in all worlds; the first that fails is shown. */
export function answerTo(question: Question, assertion: ReachAssertion, context: CheckContext): Answer {
  return answerOver(question, context, (world) => answerIn(world, question, assertion, context));
}

/** The answer over all worlds, of what becomes of a question in each. */
export function answerOver<Kind extends Answer>(
  question: Question,
  context: CheckContext,
  inWorld: (world: World) => Kind,
): Kind {
  const { worlds, limit } = context.evaluation.worlds(question.source.up);
  const answers = worlds.map(inWorld);
  const at = firstIndex(answers, "failed") ?? firstIndex(answers, "undecided") ?? 0;
  const [shown, world] = [answers[at], worlds[at]];
  if (shown === undefined || world === undefined) throw new Error("a network with no world at all");
  if (shown.status === "passed") {
    const told = { ...withLeast(shown, answers), alone: aloneIn(answers, worlds) };
    return limit === undefined ? told : undecidedBy(limit, told);
  }
  const better = worlds.filter((_, index) => answers[index]?.status === "passed");
  return better.length === 0
    ? shown
    : under(
        shown,
        world.picks,
        better.map(({ picks }) => picks),
      );
}

/** What is said of each world; under which picks, where it is not so in all of them. */
function aloneIn(answers: readonly Answer[], worlds: readonly World[]): readonly string[] {
  const said = answers.map(({ alone = [] }) => alone);
  const others = (sentence: string): readonly World[] =>
    worlds.filter((_, index) => said[index]?.includes(sentence) !== true);
  return said.flatMap((sentences, index) =>
    sentences.map((sentence) => {
      const better = others(sentence).map(({ picks }) => picks);
      const named = tellingPicks(worlds[index]?.picks ?? [], better);
      return named.length === 0 ? sentence : `${sentence} when ${tellPicks(named)}`;
    }),
  );
}

type Statused = { readonly status: Answer["status"] };

/** One of several answers with what the ways of all carry. */
function withLeast<Kind extends Answer>(shown: Kind, answers: readonly Answer[]): Kind {
  const capacities = answers.flatMap(({ capacity }) => capacity ?? []);
  return capacities.length === 0 ? shown : { ...shown, capacity: capacities.reduce(tighter, UNLIMITED) };
}

function firstIndex(answers: readonly (Statused | undefined)[], status: Answer["status"]): number | undefined {
  const found = answers.findIndex((each) => each?.status === status);
  return found < 0 ? undefined : found;
}

function undecidedBy<Kind extends Answer>(limit: string, answer: Kind): Kind {
  return { ...answer, status: "undecided", text: `${headOf(answer.question)}: nobody can tell: ${limit}`, limit };
}

/** The same failure, under these picks only: in words those that differ from the likest case where it works. */
function under<Kind extends Answer>(answer: Kind, picks: readonly Pick[], better: readonly (readonly Pick[])[]): Kind {
  const named = tellingPicks(picks, better).filter((pick) => !answer.picks.some((known) => isSamePick(known, pick)));
  const when = named.length === 0 ? "" : ` when ${tellPicks(named)}`;
  return { ...answer, text: `${answer.text}${when}`, picks: [...named, ...answer.picks] };
}

/** Those of these picks, of a case that fails, that are others in the likest of the cases where it works; none where it works in none. */
export function tellingPicks(picks: readonly Pick[], better: readonly (readonly Pick[])[]): readonly Pick[] {
  return better
    .map((others) => picks.filter((pick) => !others.some((other) => isSamePick(pick, other))))
    .filter((each) => each.length > 0)
    .reduce<readonly Pick[]>((best, each) => (best.length > 0 && best.length <= each.length ? best : each), []);
}

/** Whether both pick the same option of one choice. */
export function isSamePick(a: Pick, b: Pick): boolean {
  return a.choice === b.choice && a.option === b.option;
}

// -- one world -----------------------------------------------------------------------------------------------------

/** In one world: the first address that works in every outcome, else the failure of the first address tried. */
export function answerIn(world: World, question: Question, assertion: ReachAssertion, context: CheckContext): Answer {
  const { source, service } = question;
  const { network } = context.evaluation;
  const addresses = addressesFor(context.evaluation, world, question, question.family);
  if (addresses.length === 0) return withoutAddress(world, question, context);
  const tries = addresses.map((address) => {
    const answers = requestsTo(address, { source, service, world, network }).map((request) =>
      answerAt(request, { world, question, assertion, context }),
    );
    const [first] = answers;
    return answers.find((each) => each.status !== "passed") ?? (first && withLeast(first, answers));
  });
  // Of addresses that work nobody knows which one is taken: the rate must be there on the way to each.
  const works = tries.flatMap((each) => (each?.capacity === undefined ? [] : [each]));
  const short = works.find(({ status }) => status === "failed") ?? works.find(({ status }) => status === "undecided");
  const holds = tries.find((each) => each?.status === "passed");
  const best = short ?? (holds && withLeast(holds, works)) ?? unleased(world, question, context) ?? tries[0];
  if (best === undefined) throw new Error(`no service to try in ${question.labels.service}`);
  if (best.status !== "passed" || question.family !== undefined) return best;
  const tried = addresses.map(({ family }, index) => ({ family, answer: tries[index] }));
  return { ...best, alone: aloneOf(question, tried, { world, evaluation: context.evaluation }) };
}

/** One version of IP does not do what an exchange does over the other: what it was tried for, or who was to get an address of it. */
function aloneOf(
  question: Question,
  tried: readonly { readonly family: Family; readonly answer: Answer | undefined }[],
  place: { readonly world: World; readonly evaluation: Evaluation },
): readonly string[] {
  const { source, destination, service, labels } = question;
  const pair = { ...place, source, destination };
  const works = tried.find(({ answer }) => answer?.status === "passed")?.family;
  const other = works === 4 ? 6 : 4;
  if (works === undefined || (service !== undefined && !isServiceOf(service, other))) return [];
  const answer = tried.find(({ family }) => family === other)?.answer;
  const isFit = answer !== undefined && answer.status !== "passed" && isMeantFor(other, pair);
  const reason = answer === undefined ? lackOver(other, pair) : isFit ? withoutHead(answer) : undefined;
  if (reason === undefined) return [];
  // What is told of a failure is looked for all over the site.
  place.evaluation.footprint.reasons = true;
  return [tellAlone({ from: labels.from, to: `${labels.to} on ${labels.service}`, works, reason })];
}

/** What became of an answer that did not pass, without whom it is about. */
export function withoutHead({ question, text }: Answer): string {
  return text.slice(headOf(question).length + ": ".length);
}

/** A source that waits for a lease in vain tries what is left, IPv6. Where it was not told to, the lease is what it lacks. */
function unleased(world: World, question: Question, context: CheckContext): Answer | undefined {
  const { source, destination } = question;
  const isVain = world.failures.some(({ interface: id }) => source.interfaces.includes(id));
  const addresses = stackIn(world.settled, source.stack)?.interfaces.flatMap((leg) => leg.addresses) ?? [];
  const asks6 = destination.address?.family === 6 || question.family === 6;
  const isLeft = isVain && addresses.every(({ family }) => family === 6) && !asks6;
  return isLeft ? withoutAddress(world, question, context) : undefined;
}

/** Nothing could be asked, since an end has no address. */
export function withoutAddress(world: World, question: Question, context: CheckContext): Answer {
  const legs = [...question.source.interfaces, ...(question.destination.party?.interfaces ?? [])];
  const { evaluation } = context;
  const { family } = question;
  for (const leg of legs) evaluation.footprint.leases.add(leg);
  const failure =
    family === undefined
      ? world.failures.find((each) => legs.includes(each.interface))
      : missingLease(family, { ...question, world, evaluation });
  const isBare = family !== undefined && isBareEnd(question.source, family, world);
  const bare = family === undefined || isBare ? question.source : (question.destination.party ?? question.source);
  const who = failure === undefined ? nameOf(bare, question) : deviceName(failure.interface);
  const lacking =
    family === undefined ? "has no address of a family that both ends speak" : `has no IPv${family} address`;
  const why = failure === undefined ? lacking : tellLack(failure);
  const text = `${headOf(question)}: ${who} ${why}`;
  const origins = failure === undefined ? originsOf(bare, context) : becauseOf(failure, world, evaluation.network);
  const answer = {
    question,
    text,
    decidedBy: evidence(origins, why),
    picks: [],
    ...prefixHelp(failure, world.settled),
  };
  if (failure?.unknown === undefined) return { status: "failed", ...answer };
  return { status: "undecided", ...answer, limit: failure.unknown };
}

function nameOf({ stack }: Party, { source, labels }: Question): string {
  return stack === source.stack ? labels.from : labels.to;
}

function originsOf(end: Party, context: CheckContext): Origin[] {
  const stack = context.evaluation.network.stacks.find((each) => each.id === end.stack);
  return stack === undefined ? [] : [stack.origin];
}

// -- one address ---------------------------------------------------------------------------------------------------

type Asked = {
  readonly world: World;
  readonly question: Question;
  readonly assertion: ReachAssertion;
  readonly context: CheckContext;
};

/** In every outcome that the way itself leaves open. */
function answerAt(request: ProbeRequest & { readonly service: Concrete }, asked: Asked): Answer {
  const { world, question, context } = asked;
  const { outcomes, limit } = context.evaluation.converse(world, request);
  const faults = outcomes.map((outcome) => faultOf(outcome, asked));
  const at = firstIndex(faults, "failed") ?? firstIndex(faults, "undecided") ?? -1;
  const [outcome, fault] = [outcomes[Math.max(0, at)], faults[at]];
  if (outcome === undefined) throw new Error(`no outcome of ${headOf(question)}`);
  const shown = {
    question,
    outcome,
    packet: packetOf(outcome.result, request.service, question.source.stack),
    picks: [],
  };
  if (fault !== undefined) {
    const works = outcomes.filter((_, index) => faults[index] === undefined);
    const isOpen = fault.status === "failed" && faults.some((each) => each?.status === "undecided");
    const failed = { ...shown, ...fault, text: `${headOf(question)}: ${fault.text}`, outcomes: works };
    const better = works.map(({ picks }) => picks);
    return under({ ...failed, ...(isOpen ? { isOpenElsewhere: true } : {}) }, outcome.picks, better);
  }
  const capacity = outcomes.flatMap(({ result }) => capacityAsked(result, asked) ?? []).reduce(tighter, UNLIMITED);
  const carried = asked.assertion.bandwidth === undefined ? {} : { capacity };
  const passed: Answer = { ...shown, status: "passed", text: "", decidedBy: [], outcomes, ...carried };
  return limit === undefined ? passed : undecidedBy(limit, passed);
}

function capacityAsked(result: ProbeResult, { assertion, world, context }: Asked): Capacity | undefined {
  return assertion.bandwidth === undefined ? undefined : capacityOf(result, assertion, world, context);
}

type Fault = {
  readonly status: "failed" | "undecided";
  readonly text: string;
  readonly decidedBy: readonly Evidence[];
  readonly limit?: string;
  readonly help?: string;
  readonly remembered?: string;
  readonly goesOn?: string;
  readonly capacity?: Capacity;
  readonly way?: readonly PathStep[];
};

/** What keeps an outcome from being what the assertion expects; undefined: nothing. */
function faultOf({ result, stale: [stale, ...others] = [], goesOn }: Outcome, asked: Asked): Fault | undefined {
  const { assertion, context, world } = asked;
  const isMet =
    assertion.expect.value === "arrives"
      ? result.outcome.arrivals.length > 0
      : result.outcome.end === "answered" && result.stalls !== true;
  if (isMet) {
    const nobody = beyondFault(result, asked);
    if (nobody !== undefined) return nobody;
    const { network } = context.evaluation;
    const {
      question,
      question: { isAnyones },
    } = asked;
    const stray = isAnyones ? undefined : strayFault(result, question, { network, settled: world.settled });
    const fault = stray ?? wayFault(result.path, assertion);
    if (fault === undefined) return rateFault(result, asked);
    // Forwarding that is written is itself the line to change.
    const place = { network, settled: world.settled };
    const why = fault.isRouted === true && fault.origin.by === "default" ? routedReasons(result, place) : [];
    return { status: "failed", text: fault.text, decidedBy: evidence([...why, fault.origin], fault.text) };
  }
  // Where devices remember what is so no more, nothing of the plan is to be changed.
  if (stale !== undefined)
    return {
      status: "failed",
      text: stale.text,
      decidedBy: [stale, ...others],
      help: "it passes; a packet from there ends it at once",
      remembered: stale.text,
    };
  const decisive = result.answerFate ?? result.fate;
  const text = failureText(result, world, context);
  if (decisive.end !== "unknown") {
    const decidedBy = evidence(linesFor(result, world, context.evaluation.network), text);
    const lacking = missingUplink(result, world);
    if (lacking?.unknown !== undefined) return { status: "undecided", text, decidedBy, limit: lacking.unknown };
    const help = prefixHelp(lacking, world.settled);
    return { status: "failed", text, decidedBy, ...help, ...(goesOn === undefined ? {} : { goesOn: goesOn.text }) };
  }
  const told = tellFate(decisive, context.names);
  return { status: "undecided", text: told, decidedBy: evidence([decisive.origin], told), limit: decisive.note };
}

/** An address that nobody on the internet has; the place is where it was written. */
function beyondFault(result: ProbeResult, { question, world, assertion, context }: Asked): Fault | undefined {
  const { address } = question.destination;
  const nobody = nobodyBeyond(result, question.destination, { world, network: context.evaluation.network });
  if (nobody === undefined || address === undefined) return undefined;
  const { text, help, origin, way } = nobody;
  const written = assertion.to.value.find(
    ({ value }) =>
      value.by === "addresses" &&
      value.family === address.family &&
      value.first <= address.value &&
      address.value <= value.last,
  );
  const span = (written ?? assertion.to).span;
  return { status: "failed", text, help, way, decidedBy: evidence([{ by: "written", span }, origin], text) };
}

/** An exchange that works gets too little through. */
function rateFault(result: ProbeResult, asked: Asked): Fault | undefined {
  const capacity = capacityAsked(result, asked);
  const least = asked.assertion.bandwidth?.value;
  if (capacity === undefined || least === undefined) return undefined;
  const shortage = shortageOf(capacity, least);
  return shortage && { ...shortage, capacity };
}

function evidence(origins: readonly Origin[], text: string): Evidence[] {
  return origins.map((origin) => ({ origin, text }));
}
