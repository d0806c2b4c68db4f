/**
 * `connects` and `arrives`: every source exchanges with every target, for every service, in every outcome.
 * `connects` is a whole exchange; `arrives` asks only that the request reaches a stack at the far end. The way may be
 * asked for too: `through`, `avoids`, `routed`.
 */
import { type Family, formatService } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { AssertionHead, ReachAssertion } from "../document/index.ts";
import type { Evaluation, Outcome } from "../evaluate/index.ts";
import type { Network } from "../network/index.ts";
import { type Bottleneck, type Cell, type Told, tellPath } from "../result/index.ts";
import { assumptionsOf } from "./assumptions.ts";
import { assumedBeyond, bottleneckOf, type Capacity, tellNarrow, tighter, UNLIMITED } from "./bandwidth.ts";
import { type CheckContext, type Finding, worstAmong } from "./context.ts";
import { type EndPair, isInternet } from "./ends.ts";
import { destinationsOf, sourcesOf } from "./exchange.ts";
import { cellFamily, familiesAsked, isMeantToSpeak, isServiceOf, onlyFamily, writtenFamily } from "./families.ts";
import { lostSsid } from "./lost-network.ts";
import { type Answer, answerTo, headOf, type Question } from "./question.ts";
import { nobodyServes, withoutUplink } from "./vacuous.ts";

/** Judges a `connects` or `arrives` assertion between these ends. */
export function checkExchange(assertion: ReachAssertion, written: EndPair, context: CheckContext): Finding {
  const ends = present(written, context);
  if (ends === undefined) return goneFinding(assertion);
  const questions = questionsOf(assertion, ends, context.evaluation.network);
  const empty = emptyReason(assertion, ends, questions, context);
  if (empty !== undefined) {
    const { network } = context.evaluation;
    const deserted = ends.from.find((end) => sourcesOf(end, network).length === 0);
    return vacuousFinding(empty, (deserted && lostSsid(deserted.group, network)) ?? originOf(assertion));
  }
  const answers = questions.map((question) => answerTo(question, assertion, context));
  const expect = assertion.expect.value === "arrives" ? "arrives" : "connects";
  return findingOf(worstAmong(answers), answers, expect, context);
}

/** Without ends that are gone (`Evaluation.gone`); undefined: nobody is left on one side. The internet is always there. */
function present({ from, to }: EndPair, { evaluation: { network, gone } }: CheckContext): EndPair | undefined {
  if (gone.size === 0) return { from, to };
  const begins = from.filter((end) => isInternet(end) || sourcesOf(end, network).length > 0);
  const answers = to.filter((end) => isInternet(end) || destinationsOf(end, network).length > 0);
  return begins.length === 0 || answers.length === 0 ? undefined : { from: begins, to: answers };
}

/** Nobody is there any more to ask, which only a failure brings about. */
export function goneFinding({ span }: AssertionHead): Finding {
  const text = "the failure leaves nobody to ask";
  return {
    status: "skipped",
    by: "simulation",
    headline: text,
    decidedBy: [{ origin: { by: "written", span }, text }],
  };
}

function findingOf(shown: Answer, answers: readonly Answer[], expect: Cell["expect"], context: CheckContext): Finding {
  const { status, outcome, packet, picks, limit, help, remembered, goesOn } = shown;
  const holds = status === "passed";
  const narrow = (holds ? capacityOfAll(answers) : shown.capacity)?.narrow;
  return {
    status,
    by: "simulation",
    headline: holds ? passedHeadline(answers, narrow) : shown.text,
    decidedBy: shown.decidedBy,
    path: outcome === undefined ? [] : pathOf(outcome, shown.way, context),
    picks,
    assumptions: assumedIn(answers, context),
    ...(packet === undefined || holds ? {} : { witness: packet }),
    ...(limit === undefined ? {} : { limit }),
    ...(help === undefined ? {} : { help }),
    ...(remembered === undefined ? {} : { remembered }),
    ...(goesOn === undefined ? {} : { goesOn }),
    ...(narrow === undefined ? {} : { bottleneck: bottleneckOf(narrow) }),
    cells: answers.map((answer) => cellOf(answer, expect)),
  };
}

function assumedIn(answers: readonly Answer[], context: CheckContext): readonly string[] {
  const results = answers.flatMap(({ outcome }) => outcome?.result ?? []);
  const alone = answers.flatMap((answer) => answer.alone ?? []);
  const beyond = answers.flatMap(({ capacity }) => (capacity === undefined ? [] : assumedBeyond(capacity)));
  return [...new Set([...assumptionsOf(results, context), ...beyond, ...alone])];
}

function capacityOfAll(answers: readonly Answer[]): Capacity {
  return answers.flatMap(({ capacity }) => capacity ?? []).reduce(tighter, UNLIMITED);
}

function passedHeadline(answers: readonly Answer[], narrow: Bottleneck | undefined): string {
  const pairs = answers.length === 1 ? "the exchange works" : `all ${answers.length} exchanges work`;
  const [first] = answers;
  const told = first === undefined ? pairs : `${pairs}: ${headOf(first.question)}`;
  return narrow === undefined ? told : `${told}; ${tellNarrow(narrow)}`;
}

function cellOf({ question: { labels, family }, status }: Answer, expect: Cell["expect"]): Cell {
  return { ...labels, ...cellFamily(family), expect, status };
}

/** The way of an exchange in words, there and back. */
export function pathOf({ result }: Outcome, way: Answer["way"], context: CheckContext): readonly Told[] {
  if (way !== undefined) return tellPath(way, context.names);
  if (result.fate.end !== "delivered") return tellPath(result.path, context.names, result.fate);
  return tellPath([...result.path, ...result.answerPath], context.names, result.answerFate);
}

// -- which questions -----------------------------------------------------------------------------------------------

/** Every source of the ends with every target, for every service. */
export function questionsOf(assertion: ReachAssertion, { from, to }: EndPair, network: Network): Question[] {
  const services = assertion.service?.value.map(({ value }) => value) ?? [undefined];
  const sources = from.flatMap((end) => sourcesOf(end, network));
  const destinations = to.flatMap((end) => destinationsOf(end, network));
  return sources.flatMap((source) =>
    destinations
      .filter(({ party }) => party?.stack !== source.stack)
      .flatMap((destination) =>
        services.flatMap((service) => {
          const words = service === undefined ? "echo" : formatService(service);
          const labels = { from: source.label, to: destination.label, service: words };
          const question = { source, destination, service, labels };
          return familiesBetween(assertion, question).map((family) =>
            family === undefined ? question : { ...question, family },
          );
        }),
      ),
  );
}

/** Over which versions of IP one question is asked: of what was written for its ends, and of its service. */
function familiesBetween(
  { family: asked }: ReachAssertion,
  { source, destination, service }: Pick<Question, "source" | "destination" | "service">,
): readonly (Family | undefined)[] {
  const written = [writtenFamily(source), writtenFamily(destination)];
  return familiesAsked(asked?.value).filter(
    (family) =>
      family === undefined ||
      (written.every((each) => each === undefined || each === family) &&
        (service === undefined || isServiceOf(service, family))),
  );
}

/** An end at which nobody is meant to have an address of a version that is asked. */
function withoutFamily(assertion: ReachAssertion, { from, to }: EndPair, evaluation: Evaluation): string | undefined {
  if (assertion.family === undefined) return undefined;
  for (const one of from) {
    for (const other of to) {
      const questions = questionsOf(assertion, { from: [one], to: [other] }, evaluation.network);
      for (const family of [4, 6] as const) {
        const asked = questions.filter((each) => each.family === family);
        if (asked.length === 0) continue;
        const speaks = ({ source }: Question): boolean =>
          source.within !== undefined || isMeantToSpeak(source, family, evaluation);
        const answers = ({ destination: { party } }: Question): boolean =>
          party === undefined || isMeantToSpeak(party, family, evaluation);
        const end = asked.some(speaks) ? (asked.some(answers) ? undefined : other) : one;
        if (end !== undefined) return `nobody in \`${end.label}\` is meant to have an IPv${family} address`;
      }
    }
  }
  return undefined;
}

function emptyReason(
  assertion: ReachAssertion,
  { from, to }: EndPair,
  questions: readonly Question[],
  context: CheckContext,
): string | undefined {
  const { network } = context.evaluation;
  const silent = from.find((end) => sourcesOf(end, network).length === 0);
  if (silent !== undefined) return `there is no host in \`${silent.label}\` to begin anything`;
  const only = onlyFamily(assertion.family?.value);
  const uplink = from.map((end) => withoutUplink(end, context, only)).find((each) => each !== undefined);
  if (uplink !== undefined) return uplink.text;
  const deserted = to.find((end) => destinationsOf(end, network).length === 0);
  if (deserted !== undefined) return `there is no host in \`${deserted.label}\` to answer`;
  if (to.some((end) => isInternet(end) && end.group.upstreams.length === 0)) return "there is no upstream";
  if (questions.length === 0) return nothingAsked(assertion, { from, to }, network);
  return withoutFamily(assertion, { from, to }, context.evaluation) ?? nobodyServes(assertion, to, context.evaluation);
}

/** No question is left: of several addresses none is of the version, or all ends are one device. */
function nothingAsked({ family, ...assertion }: ReachAssertion, ends: EndPair, network: Network): string {
  const isOfFamily = family !== undefined && questionsOf(assertion, ends, network).length > 0;
  return isOfFamily ? "the ends have no version of IP in common that is asked for" : "both ends are the same device";
}

function originOf({ span }: ReachAssertion): Origin {
  return { by: "written", span };
}

/** A pass that would say nothing. */
export function vacuousFinding(text: string, origin: Origin): Finding {
  return { status: "vacuous", by: "simulation", headline: text, decidedBy: [{ origin, text }], cells: [] };
}
