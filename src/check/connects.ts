/**
 * `connects` and `arrives`: every source exchanges with every target, for every service, in every outcome.
 * `connects` is a whole exchange; `arrives` asks only that the request reaches a stack at the far end. The way may be
 * asked for too: `through`, `avoids`, `routed`.
 */
import { formatService, isLinkLocal, type Service } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { ReachAssertion } from "../document/index.ts";
import type { Outcome, World } from "../evaluate/index.ts";
import { deviceOf, type PathStep } from "../network/index.ts";
import { type Cell, type Evidence, type Names, type Told, tellFate, tellPath } from "../result/index.ts";
import type { ProbeRequest, ProbeResult } from "../simulate/index.ts";
import { assumptionsOf } from "./assumptions.ts";
import { type CheckContext, type Finding, worstOf } from "./context.ts";
import type { End } from "./ends.ts";
import {
  addressesFor,
  concreteServices,
  type Destination,
  destinationsOf,
  type Source,
  sourcesOf,
} from "./exchange.ts";
import { nobodyServes } from "./vacuous.ts";

/** One source, one target, one service. */
type Question = {
  readonly source: Source;
  readonly destination: Destination;
  readonly service: Service | undefined;
  readonly labels: { readonly from: string; readonly to: string; readonly service: string };
};

/** How one question ended, with what to show for it. */
type Answer = {
  readonly status: "passed" | "failed" | "vacuous" | "undecided";
  readonly question: Question;
  readonly text: string;
  readonly decidedBy: readonly Evidence[];
  readonly outcome?: Outcome;
  readonly limit?: string;
};

/** Judges a `connects` or `arrives` assertion between these ends. */
export function checkExchange(
  assertion: ReachAssertion,
  ends: { readonly from: readonly End[]; readonly to: readonly End[] },
  context: CheckContext,
): Finding {
  const questions = questionsOf(assertion, ends, context);
  const empty = emptyReason(assertion, ends, questions, context);
  if (empty !== undefined) return vacuousFinding(assertion, empty);
  const answers = questions.map((question) => answer(question, assertion, context));
  const status = worstOf(answers.map((each) => each.status));
  const shown = answers.find((each) => each.status === status);
  if (shown === undefined) throw new Error(`no answer among ${answers.length} for ${assertion.name.value}`);
  return findingOf(status, shown, answers, context);
}

function findingOf(
  status: Answer["status"] | "skipped",
  shown: Answer,
  answers: readonly Answer[],
  context: CheckContext,
): Finding {
  const { labels } = shown.question;
  const passed = answers.filter((each) => each.status === "passed");
  return {
    status,
    by: "simulation",
    headline: status === "passed" ? passedHeadline(answers) : shown.text,
    decidedBy: shown.decidedBy,
    path: shown.outcome === undefined ? [] : pathOf(shown.outcome, context),
    picks: shown.outcome?.picks ?? [],
    assumptions: assumptionsOf(
      passed.flatMap((each) => (each.outcome === undefined ? [] : [each.outcome.result])),
      context,
    ),
    ...(shown.limit === undefined ? {} : { limit: shown.limit }),
    cells: answers.map(cellOf),
    ...(status === "passed" ? {} : { repeat: [labels.from, labels.to, labels.service] as const }),
  };
}

function passedHeadline(answers: readonly Answer[]): string {
  const pairs = answers.length === 1 ? "the exchange works" : `all ${answers.length} exchanges work`;
  const [first] = answers;
  return first === undefined ? pairs : `${pairs}: ${sentenceHead(first.question)}`;
}

function cellOf({ question, status }: Answer): Cell {
  return { ...question.labels, status };
}

function sentenceHead({ labels }: Question): string {
  return `${labels.from} to ${labels.to} on ${labels.service}`;
}

function pathOf({ result }: Outcome, context: CheckContext): readonly Told[] {
  const back = result.fate.end === "delivered" ? result.answerPath : [];
  return tellPath([...result.path, ...back], context.names);
}

// -- which questions ---------------------------------------------------------------------------------------------

function questionsOf(
  assertion: ReachAssertion,
  ends: { readonly from: readonly End[]; readonly to: readonly End[] },
  context: CheckContext,
): Question[] {
  const services = assertion.service?.value ?? [undefined];
  return ends.from.flatMap((from) =>
    sourcesOf(from.group, context.evaluation.network).flatMap((source) =>
      ends.to.flatMap((to) =>
        destinationsOf(to)
          .filter((destination) => destination.party?.stack !== source.stack)
          .flatMap((destination) =>
            services.map((service) => ({
              source,
              destination,
              service: service === undefined ? undefined : service.value,
              labels: {
                from: source.label,
                to: destination.label,
                service: service === undefined ? "echo" : formatService(service.value),
              },
            })),
          ),
      ),
    ),
  );
}

function emptyReason(
  assertion: ReachAssertion,
  ends: { readonly from: readonly End[]; readonly to: readonly End[] },
  questions: readonly Question[],
  context: CheckContext,
): string | undefined {
  const { network } = context.evaluation;
  const silent = ends.from.find((end) => sourcesOf(end.group, network).length === 0);
  if (silent !== undefined) return `there is no host in \`${silent.label}\` to begin anything`;
  const deserted = ends.to.find((end) => destinationsOf(end).length === 0);
  if (deserted !== undefined) return `there is no host in \`${deserted.label}\` to answer`;
  if (questions.length === 0) return "both ends are the same device";
  return nobodyServes(assertion, ends.to, network);
}

function vacuousFinding(assertion: ReachAssertion, text: string): Finding {
  const origin: Origin = { by: "written", span: assertion.span };
  return { status: "vacuous", by: "simulation", headline: text, decidedBy: [{ origin, text }], cells: [] };
}

// -- one question ------------------------------------------------------------------------------------------------

function answer(question: Question, assertion: ReachAssertion, context: CheckContext): Answer {
  const { worlds, limit } = context.evaluation.worlds(question.source.up);
  const answers = worlds.map((world) => answerIn(world, question, assertion, context));
  const worst =
    answers.find((each) => each.status === "failed") ?? answers.find((each) => each.status !== "passed") ?? answers[0];
  if (worst === undefined) throw new Error("a network with no world at all");
  return limit === undefined || worst.status === "failed" ? worst : { ...worst, status: "undecided", limit };
}

/** In one world: the first address that works in every outcome, else the failure of the first address tried. */
function answerIn(world: World, question: Question, assertion: ReachAssertion, context: CheckContext): Answer {
  const { source, destination } = question;
  const addresses = addressesFor(context.evaluation.network, world, source, destination);
  if (addresses.length === 0) return withoutAddress(world, question, context);
  const tries = addresses.map((address) => {
    const services = concreteServices(question.service, address.family);
    const answers = services.map((service) =>
      judge(
        { from: source.stack, ...boundLeg(source, world, address.family), destination: address, service },
        world,
        question,
        assertion,
        context,
      ),
    );
    return answers.find((each) => each.status !== "passed") ?? answers[0];
  });
  const best = tries.find((each) => each?.status === "passed") ?? tries[0];
  if (best === undefined) throw new Error(`no service to try in ${question.labels.service}`);
  return best;
}

/** A source that is one leg of several sends from that leg's address. */
function boundLeg(source: Source, world: World, family: 4 | 6): Pick<ProbeRequest, "source"> {
  const stack = world.settled.stacks.find((candidate) => candidate.stack === source.stack);
  if (stack === undefined || source.interfaces.length !== 1 || stack.interfaces.length === 1) return {};
  const leg = stack.interfaces.find((candidate) => candidate.interface === source.interfaces[0]);
  const address = leg?.addresses.find((each) => each.family === family && !isLinkLocal(each));
  return address === undefined ? {} : { source: { family: address.family, value: address.value } };
}

function withoutAddress(world: World, question: Question, context: CheckContext): Answer {
  const legs = [...question.source.interfaces, ...(question.destination.party?.interfaces ?? [])];
  const failure = world.failures.find((each) => legs.includes(each.interface));
  const who = failure === undefined ? question.labels.from : deviceOf(failure.interface);
  const why =
    failure === undefined ? "has no address of a family that both ends speak" : `got no address: ${failure.text}`;
  const text = `${sentenceHead(question)}: ${who.replace("~", "a new client in ")} ${why}`;
  const origins = failure?.because ?? originsOf(question, context);
  return { status: "failed", question, text, decidedBy: origins.map((origin) => ({ origin, text: why })) };
}

function originsOf(question: Question, context: CheckContext): Origin[] {
  const stack = context.evaluation.network.stacks.find((each) => each.id === question.source.stack);
  return stack === undefined ? [] : [stack.origin];
}

function judge(
  request: ProbeRequest,
  world: World,
  question: Question,
  assertion: ReachAssertion,
  context: CheckContext,
): Answer {
  const { outcomes, limit } = context.evaluation.exchange(world, request);
  for (const outcome of outcomes) {
    const fault = faultOf(outcome, assertion, context);
    if (fault !== undefined) return { question, outcome, ...fault, text: `${sentenceHead(question)}: ${fault.text}` };
  }
  const [first] = outcomes;
  const passed: Answer = {
    status: "passed",
    question,
    text: "",
    decidedBy: [],
    ...(first === undefined ? {} : { outcome: first }),
  };
  return limit === undefined ? passed : { ...passed, status: "undecided", text: limit, limit };
}

type Fault = {
  readonly status: "failed" | "undecided";
  readonly text: string;
  readonly decidedBy: readonly Evidence[];
  readonly limit?: string;
};

/** What keeps an outcome from being what the assertion expects; undefined: nothing. */
function faultOf(outcome: Outcome, assertion: ReachAssertion, context: CheckContext): Fault | undefined {
  const { result } = outcome;
  const decisive = result.answerFate ?? result.fate;
  if (decisive.end === "unknown") {
    return {
      status: "undecided",
      text: tellFate(decisive, context.names),
      decidedBy: evidence([decisive.origin], "nobody knows"),
      limit: decisive.note,
    };
  }
  if (
    assertion.expect.value === "arrives"
      ? result.fate.end !== "delivered"
      : result.outcome.end !== "answered" || result.stalls === true
  ) {
    const text = failureText(outcome.result, context.names);
    return { status: "failed", text, decidedBy: evidence(result.decidedBy, text) };
  }
  return wayFault(result.path, assertion);
}

/** Why an exchange did not come to its end, in a sentence. */
export function failureText(result: ProbeResult, names: Names): string {
  const lost = tellFate(result.answerFate ?? result.fate, names);
  if (result.stalls === true) return `opens, then stalls: ${lost}`;
  if (result.fate.end !== "delivered") return tellFate(result.fate, names);
  if (result.answerFate === undefined) return "the request arrives, and no answer comes";
  if (result.outcome.end === "reset" || result.outcome.end === "refused")
    return "the far end turns it away: nothing listens there";
  return `the answer is lost: ${lost}`;
}

function evidence(origins: readonly Origin[], text: string): Evidence[] {
  return origins.map((origin) => ({ origin, text }));
}

// -- the way -----------------------------------------------------------------------------------------------------

function wayFault(path: readonly PathStep[], assertion: ReachAssertion): Fault | undefined {
  const passed = new Set(path.map((step) => deviceOf(step.at)));
  const hop = path.find((step) => step.did === "hop-limit");
  if (assertion.routed?.value === "never" && hop !== undefined) {
    return way(`it is routed by ${deviceOf(hop.at)}`, hop.origin);
  }
  if (assertion.routed?.value === "always" && hop === undefined) {
    return way("no router lies on the way", assertion.routed);
  }
  const missed = assertion.through?.value.find((device) => !passed.has(device.value));
  if (missed !== undefined) return way(`it does not pass ${missed.value}`, missed);
  const met = assertion.avoids?.value.find((device) => passed.has(device.value));
  const step = met === undefined ? undefined : path.find((each) => deviceOf(each.at) === met.value);
  return met === undefined || step === undefined ? undefined : way(`it passes ${met.value}`, step.origin);
}

function way(text: string, at: Origin | { readonly span: Origin["span"] }): Fault {
  const origin: Origin = "by" in at ? at : { by: "written", span: at.span };
  return { status: "failed", text, decidedBy: evidence([origin], text) };
}
