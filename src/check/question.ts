/**
 * One question of `connects` or `arrives`: one source, one target, one service, asked in every outcome of what the
 * documents leave open. A failure says under which picks, where under others it would work.
 */
import { addressKey, formatAddress, isLinkLocal, type Service } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { ReachAssertion } from "../document/index.ts";
import type { Outcome, World } from "../evaluate/index.ts";
import { deviceOf, type Fate, type Id, type Network, type Pick } from "../network/index.ts";
import {
  deviceName,
  type Evidence,
  type Names,
  type Packet,
  tellFate,
  tellPicks,
  tellService,
} from "../result/index.ts";
import type { BindingFailure, ProbeRequest, ProbeResult } from "../simulate/index.ts";
import { type Capacity, capacityOf, shortageOf, tighter, UNLIMITED } from "./bandwidth.ts";
import type { CheckContext } from "./context.ts";
import { addressesFor, type Concrete, type Destination, requestsTo, type Source } from "./exchange.ts";
import { lackOf, networkOfEnd } from "./lack.ts";
import { reasonsWithoutLease } from "./lease-reason.ts";
import { prefixHelp } from "./prefix-help.ts";
import { reasonsFor } from "./reason.ts";
import { stackIn } from "./rest.ts";
import { routedReasons } from "./routed-reason.ts";
import { sharedHardware } from "./shared-hardware.ts";
import { tunnelReasons } from "./tunnel-reason.ts";
import { type WayFault, wayFault } from "./way.ts";

/** One source, one target, one service. */
export type Question = {
  /** Who begins. */
  readonly source: Source;
  /** Who is meant. */
  readonly destination: Destination;
  /** On what; absent: an echo. */
  readonly service: Service | undefined;
  /** The three in words. */
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
};

/** `crew to archive on tcp/445`. */
export function headOf({ labels }: Question): string {
  return `${labels.from} to ${labels.to} on ${labels.service}`;
}

/** Asks in all worlds; the first that fails is shown. */
export function answerTo(question: Question, assertion: ReachAssertion, context: CheckContext): Answer {
  const { worlds, limit } = context.evaluation.worlds(question.source.up);
  const answers = worlds.map((world) => answerIn(world, question, assertion, context));
  const at = firstIndex(answers, "failed") ?? firstIndex(answers, "undecided") ?? 0;
  const [shown, world] = [answers[at], worlds[at]];
  if (shown === undefined || world === undefined) throw new Error("a network with no world at all");
  if (shown.status === "passed") return limit === undefined ? withLeast(shown, answers) : undecidedBy(limit, shown);
  const better = worlds.filter((_, index) => answers[index]?.status === "passed");
  return better.length === 0
    ? shown
    : under(
        shown,
        world.picks,
        better.map(({ picks }) => picks),
      );
}

type Statused = { readonly status: Answer["status"] };

/** One of several answers with what the ways of all carry. */
function withLeast(shown: Answer, answers: readonly Answer[]): Answer {
  const capacities = answers.flatMap(({ capacity }) => capacity ?? []);
  return capacities.length === 0 ? shown : { ...shown, capacity: capacities.reduce(tighter, UNLIMITED) };
}

function firstIndex(answers: readonly (Statused | undefined)[], status: Answer["status"]): number | undefined {
  const found = answers.findIndex((each) => each?.status === status);
  return found < 0 ? undefined : found;
}

function undecidedBy(limit: string, answer: Answer): Answer {
  return { ...answer, status: "undecided", text: `${headOf(answer.question)}: nobody can tell: ${limit}`, limit };
}

/** The same failure, under these picks only: in words those that differ from the likest case where it works. */
function under(answer: Answer, picks: readonly Pick[], better: readonly (readonly Pick[])[]): Answer {
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
function answerIn(world: World, question: Question, assertion: ReachAssertion, context: CheckContext): Answer {
  const { source, destination } = question;
  const addresses = addressesFor(context.evaluation, world, source, destination);
  if (addresses.length === 0) return withoutAddress(world, question, context);
  const tries = addresses.map((address) => {
    const answers = requestsTo(address, { source, service: question.service, world }).map((request) =>
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
  return best;
}

/** A source that waits for a lease in vain tries what is left, IPv6. Where it was not told to, the lease is what it lacks. */
function unleased(world: World, question: Question, context: CheckContext): Answer | undefined {
  const { source, destination } = question;
  const isVain = world.failures.some(({ interface: id }) => source.interfaces.includes(id));
  const addresses = stackIn(world.settled, source.stack)?.interfaces.flatMap((leg) => leg.addresses) ?? [];
  const isLeft = isVain && addresses.every(({ family }) => family === 6) && destination.address?.family !== 6;
  return isLeft ? withoutAddress(world, question, context) : undefined;
}

function withoutAddress(world: World, question: Question, context: CheckContext): Answer {
  const legs = [...question.source.interfaces, ...(question.destination.party?.interfaces ?? [])];
  const failure = world.failures.find((each) => legs.includes(each.interface));
  for (const leg of legs) context.evaluation.footprint.leases.add(leg);
  const who = failure === undefined ? question.labels.from : deviceName(failure.interface);
  const why =
    failure === undefined ? "has no address of a family that both ends speak" : `got no address: ${failure.text}`;
  const text = `${headOf(question)}: ${who} ${why}`;
  const origins =
    failure === undefined ? originsOf(question, context) : becauseOf(failure, world, context.evaluation.network);
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

function becauseOf(failure: BindingFailure, { settled }: World, network: Network): Origin[] {
  const reasons = reasonsWithoutLease(failure.interface, { network, settled });
  return [...reasons, ...failure.because];
}

function originsOf(question: Question, context: CheckContext): Origin[] {
  const stack = context.evaluation.network.stacks.find((each) => each.id === question.source.stack);
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
  const shown = { question, outcome, packet: packetOf(outcome.result, request.service, question), picks: [] };
  if (fault !== undefined) {
    const better = outcomes.filter((_, index) => faults[index] === undefined).map(({ picks }) => picks);
    return under({ ...shown, ...fault, text: `${headOf(question)}: ${fault.text}` }, outcome.picks, better);
  }
  const capacity = outcomes.flatMap(({ result }) => capacityAsked(result, asked) ?? []).reduce(tighter, UNLIMITED);
  const carried = asked.assertion.bandwidth === undefined ? {} : { capacity };
  const passed: Answer = { ...shown, status: "passed", text: "", decidedBy: [], ...carried };
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
};

/** What keeps an outcome from being what the assertion expects; undefined: nothing. */
function faultOf({ result, stale: [stale, ...others] = [], goesOn }: Outcome, asked: Asked): Fault | undefined {
  const { assertion, context, world } = asked;
  const isMet =
    assertion.expect.value === "arrives"
      ? result.outcome.arrivals.length > 0
      : result.outcome.end === "answered" && result.stalls !== true;
  if (isMet) {
    const fault = strayFault(result, asked) ?? wayFault(result.path, assertion);
    if (fault === undefined) return rateFault(result, asked);
    // Forwarding that is written is itself the line to change.
    const place = { network: context.evaluation.network, settled: world.settled };
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

/** An exchange that works gets too little through. */
function rateFault(result: ProbeResult, asked: Asked): Fault | undefined {
  const capacity = capacityAsked(result, asked);
  const least = asked.assertion.bandwidth?.value;
  if (capacity === undefined || least === undefined) return undefined;
  const shortage = shortageOf(capacity, least);
  return shortage && { ...shortage, capacity };
}

/** The request came to another stack than was meant, and no translation led it there. */
function strayFault({ request, outcome, path }: ProbeResult, { question }: Asked): WayFault | undefined {
  const { party } = question.destination;
  const [arrival] = outcome.arrivals;
  const last = path.at(-1);
  if (party === undefined || arrival === undefined || last === undefined) return undefined;
  const isMeant = arrival.device === deviceOf(party.stack);
  const isLed = addressKey(arrival.destination) !== addressKey(request.destination);
  if (isMeant || isLed) return undefined;
  const { device } = arrival;
  const text = device === deviceOf(question.source.stack) ? `${device} knows no way there` : `it comes to ${device}`;
  return { text, origin: last.origin };
}

/** Why an exchange did not come to its end, in a sentence. */
export function failureText(
  result: ProbeResult,
  world: World,
  { names, evaluation }: { readonly names: Names; readonly evaluation: CheckContext["evaluation"] },
): string {
  const lacking = missingUplink(result, world);
  const shared = sharedHardware(result, { network: evaluation.network, settled: world.settled });
  if (shared !== undefined) return `${failureItself(result, world, names)}; ${shared.text}`;
  if (lacking === undefined) return failureItself(result, world, names);
  const reason = `${lacking.interface} got no address: ${lacking.text}`;
  return wayless(result) === undefined ? reason : `${failureItself(result, world, names)}; ${reason}`;
}

/**
 * The interface without an address of the version asked for that leaves a stack without a way, since it would have brought the route, or
 * a sender without another source than its link-local address, which leads to no other link.
 */
function missingUplink(result: ProbeResult, { failures, settled }: World): BindingFailure | undefined {
  const at = wayless(result)?.at ?? confined(result, settled);
  const { family } = result.request.destination;
  const legs = at === undefined ? [] : (stackIn(settled, at)?.interfaces ?? []);
  const bare = legs.filter(({ addresses }) => !addresses.some((each) => each.family === family && !isLinkLocal(each)));
  return failures.find((failure) => bare.some((leg) => leg.interface === failure.interface));
}

/** The sender whose request was not sent on, as it came from a link-local address. */
function confined({ fate, request: { source } }: ProbeResult, { stacks }: World["settled"]): Id | undefined {
  if (!isLinkLocal(source) || !("reason" in fate) || fate.reason !== "not-forwardable") return undefined;
  const isIts = ({ value }: { readonly value: bigint }): boolean => value === source.value;
  return stacks.find(({ interfaces }) => interfaces.some(({ addresses }) => addresses.some(isIts)))?.stack;
}

/** The end of what found no route, there or back. */
function wayless({ fate, answerFate }: ProbeResult): Fate | undefined {
  const end = fate.end === "delivered" ? answerFate : fate;
  return end !== undefined && "reason" in end && end.reason === "no-route" ? end : undefined;
}

function failureItself(result: ProbeResult, { settled }: World, names: Names): string {
  if (settled.storms.some(({ origin }) => origin === result.decidedBy[0]))
    return "it drowns in a loop that nothing cuts";
  const { fate, path, answerFate, answerPath } = result;
  const lost = answerFate === undefined ? tellFate(fate, names, path) : tellFate(answerFate, names, answerPath);
  if (result.stalls === true) return `opens, then stalls: ${lost}`;
  if (fate.end !== "delivered") return tellFate(fate, names, path);
  if (answerFate === undefined) return "the request arrives, and no answer comes";
  if (result.outcome.end === "reset" || result.outcome.end === "refused")
    return "the far end turns it away: nothing listens there";
  return `the answer is lost: ${lost}`;
}

/** Lines behind an exchange that failed, the one to change first. */
export function linesFor(result: ProbeResult, world: World, network: Network): readonly Origin[] {
  const lacking = missingUplink(result, world);
  const uplink = lacking === undefined ? withoutSession(result, world, network) : becauseOf(lacking, world, network);
  const place = { network, settled: world.settled };
  const shared = sharedHardware(result, place);
  const reasons = [
    ...(shared === undefined ? [] : [shared.origin]),
    ...tunnelReasons(result, world, network),
    ...reasonsFor(result, place),
  ];
  const lines = [...reasons, ...uplink, ...result.decidedBy];
  const missed = networkOfEnd(result, network);
  return missed === undefined ? lines : lines.map((origin) => lackOf(origin, missed));
}

/** Sessions that are not up at a stack without a way: routes by them are not there either. */
function withoutSession(result: ProbeResult, { settled }: World, network: Network): readonly Origin[] {
  const end = wayless(result);
  if (end === undefined) return [];
  const legs = network.stacks.find(({ id }) => id === end.at)?.interfaces ?? [];
  const atRest = stackIn(settled, end.at)?.interfaces ?? [];
  return legs.flatMap(({ id, session }) => {
    const isUp = atRest.some((leg) => leg.interface === id && leg.up);
    return session === undefined || isUp ? [] : [session.origin];
  });
}

function evidence(origins: readonly Origin[], text: string): Evidence[] {
  return origins.map((origin) => ({ origin, text }));
}

/** The request as a packet in words. */
function packetOf({ request: { source, destination, body } }: ProbeResult, service: Concrete, asked: Question): Packet {
  return {
    sentAt: deviceName(asked.source.stack),
    source: formatAddress(source),
    destination: formatAddress(destination),
    service: tellService(service),
    ...("sourcePort" in body ? { sourcePort: body.sourcePort } : {}),
    after: [],
  };
}
