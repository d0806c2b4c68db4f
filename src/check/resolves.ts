/**
 * `resolves`: every source is told resolvers, and one of them answers names, in every outcome. Whom a source asks is what the site at rest
 * says of its stack: what is written for its interfaces, else what leases and advertisements told it. Who runs a resolver and was told
 * nobody asks that one (common practice).
 */
import { keyAddress } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { ResolvesAssertion } from "../document/index.ts";
import { directoryOf, type Evaluation, settledStack, type World } from "../evaluate/index.ts";
import type { Id, Service, Stack } from "../network/index.ts";
import { type Cell, deviceName } from "../result/index.ts";
import { type Trial, trialOf } from "./asked-in-turn.ts";
import type { Told } from "./asked-in-vain.ts";
import { assumptionsOf } from "./assumptions.ts";
import { goneFinding, pathOf, vacuousFinding } from "./connects.ts";
import { type CheckContext, type Finding, worstAmong } from "./context.ts";
import { type End, resolveEnds } from "./ends.ts";
import { type Source, sourcesOf } from "./exchange.ts";
import { cellFamily, familiesAsked, isFailureOf, isMeantToSpeak, onlyFamily, tellLack } from "./families.ts";
import { lostSsid } from "./lost-network.ts";
import { answerOver, type Question, withoutAddress } from "./question.ts";
import { Resolving, type Surroundings, wholeQuestion } from "./resolving.ts";

/** Judges a `resolves` assertion. */
export function checkResolves(assertion: ResolvesAssertion, context: CheckContext): Finding {
  const { network, gone } = context.evaluation;
  const all = resolveEnds(assertion.from, context.evaluation).ends;
  const ends = gone.size === 0 ? all : all.filter((end) => sourcesOf(end, network).length > 0);
  if (ends.length === 0 && gone.size > 0) return goneFinding(assertion);
  const empty = emptyReason(ends, context.evaluation);
  if (empty !== undefined)
    return vacuousFinding(empty.text, empty.origin ?? { by: "written", span: assertion.from.span });
  const trials = trialsOf(assertion, context);
  if (trials.length === 0) return withoutFamily(assertion);
  return findingOf(worstAmong(trials), trials, assertion, context);
}

/** What becomes of each source, over each version of IP that is asked. */
export function trialsOf(
  assertion: ResolvesAssertion,
  context: CheckContext,
  onAsk?: Surroundings["onAsk"],
): readonly Trial[] {
  const { evaluation } = context;
  const { ends } = resolveEnds(assertion.from, evaluation);
  const known = new Map<World, Resolving>();
  const inWorld = (world: World, { up }: Source): Resolving => {
    const here = { assertion, world, up, context, ...(onAsk === undefined ? {} : { onAsk }) };
    const found = known.get(world) ?? new Resolving(here);
    known.set(world, found);
    return found;
  };
  const asking = askingIn(ends, evaluation).flatMap((source) =>
    familiesAsked(assertion.family?.value).flatMap((family) =>
      family === undefined || isMeantToSpeak(source, family, evaluation)
        ? [wholeQuestion(fromAnyLeg(source, evaluation), family)]
        : [],
    ),
  );
  return withoutRepeated(asking).map((question) =>
    answerOver(question, context, (world) => trialIn(world, question, inWorld(world, question.source), context)),
  );
}

/** Who looks a name up does so as a device, whichever of its legs or addresses was named: no look-up is bound to one (common practice). */
function fromAnyLeg({ within: _addresses, ...source }: Source, { network }: Evaluation): Source {
  const stack = directoryOf(network).stacks.get(source.stack);
  if (stack === undefined) throw new Error(`no stack ${source.stack}`);
  return { ...source, label: deviceName(stack.id), interfaces: stack.interfaces.map(({ id }) => id) };
}

/** A device with legs in several of the networks that are asked about is asked once. */
function withoutRepeated(questions: readonly Question[]): readonly Question[] {
  const isSame = (one: Question, { source, family }: Question): boolean =>
    one.source.stack === source.stack && one.family === family;
  return questions.filter((question, index) => questions.findIndex((other) => isSame(other, question)) === index);
}

/** Sources but for those beyond an upstream, of whom no plan knows whom they ask. */
function askingIn(ends: readonly End[], { network }: Evaluation): readonly Source[] {
  const { stacks } = directoryOf(network);
  const sources = ends.flatMap((end) => sourcesOf(end, network));
  return sources.filter(({ stack }) => stacks.get(stack)?.answersFor !== "everywhere");
}

function emptyReason(
  ends: readonly End[],
  evaluation: Evaluation,
): { readonly text: string; readonly origin?: Origin } | undefined {
  for (const end of ends) {
    if (askingIn([end], evaluation).length > 0) continue;
    const isDeserted = sourcesOf(end, evaluation.network).length === 0;
    const lost = isDeserted ? lostSsid(end.group, evaluation.network) : undefined;
    const text = isDeserted
      ? `there is no host in \`${end.label}\` to ask for names`
      : `whom those in \`${end.label}\` ask for names is in no plan: they are beyond an upstream`;
    return { text, origin: lost ?? { by: "written", span: end.span } };
  }
  return undefined;
}

function withoutFamily({ family, from }: ResolvesAssertion): Finding {
  const version = onlyFamily(family?.value) ?? 4;
  return vacuousFinding(`nobody there is meant to have an IPv${version} address`, { by: "written", span: from.span });
}

// -- one source in one world ---------------------------------------------------------------------------------------

function trialIn(world: World, question: Question, resolving: Resolving, context: CheckContext): Trial {
  const { source, family } = question;
  const { evaluation } = context;
  const stack = directoryOf(evaluation.network).stacks.get(source.stack);
  if (stack === undefined) throw new Error(`no stack ${source.stack}`);
  for (const { id } of stack.interfaces) evaluation.footprint.leases.add(id);
  evaluation.footprint.stack(stack.id);
  const told = toldTo(stack, world, evaluation);
  const asked = told.filter(({ address }) => family === undefined || keyAddress(address).family === family);
  if (asked.length > 0) return { ...resolving.ask(source, asked), question };
  const own = told.length === 0 ? resolving.resolverOn(stack.id) : undefined;
  if (own !== undefined) return { ...resolving.askItself(source, own), question };
  return unasked(stack, question, world, context);
}

/** The resolvers that a stack asks, each with the line that says so. */
function toldTo(stack: Stack, { settled }: World, { network }: Evaluation): readonly Told[] {
  const written = stack.interfaces.flatMap(({ resolvers = [] }) => resolvers);
  const legs = new Set(stack.interfaces.map(({ id }) => id));
  const bindings = settled.bindings.filter((binding) => legs.has(binding.interface));
  return (settledStack(settled, stack.id)?.resolvers ?? []).map((address): Told => {
    const line = written.find((each) => each.address === address)?.origin;
    if (line !== undefined) return { address, origin: line };
    const { family, value } = keyAddress(address);
    const binding = bindings.find((each) => each.family === family && each.resolvers.includes(value));
    const origin = binding && (lineOf(network.services, binding.server, value) ?? binding.origin);
    return { address, origin: origin ?? stack.origin };
  });
}

/** The line by which a server tells its clients of a resolver, or of none. */
function lineOf(services: readonly Service[], server: Id, value?: bigint): Origin | undefined {
  const found = services.find(({ id }) => id === server);
  if (found?.kind !== "dhcp-server" && found?.kind !== "advertise") return undefined;
  const at = value === undefined ? 0 : found.resolvers.indexOf(value);
  return value === undefined && found.resolvers.length > 0 ? undefined : (found.resolverLines?.[at] ?? found.origin);
}

/** Nobody told it whom to ask: its address did not come, or nobody is named. */
function unasked(stack: Stack, question: Question, world: World, context: CheckContext): Trial {
  const { source, family } = question;
  const legs = new Set(stack.interfaces.map(({ id }) => id));
  const own = world.settled.bindings.filter(
    (binding) => legs.has(binding.interface) && (family === undefined || binding.family === family),
  );
  // A lease that did not come might have told one, whatever an advertisement left out.
  const failure = world.failures.find(
    (each) =>
      legs.has(each.interface) &&
      (family === undefined || isFailureOf(each, family)) &&
      (own.length === 0 || (isFailureOf(each, 4) && own.every((got) => got.family === 6))),
  );
  if (failure !== undefined) {
    const answer = withoutAddress(world, question, context);
    const reason = `${failure.interface} ${tellLack(failure)}`;
    const text = `${source.label} is told no resolver: ${reason}`;
    return trialOf(question, { ...answer, text, told: "" });
  }
  const version = family === undefined ? "" : ` over IPv${family}`;
  const text = `${source.label} is told no resolver${version}`;
  const lines = own.flatMap(({ server }) => lineOf(context.evaluation.network.services, server) ?? []);
  const places = lines.length > 0 ? lines : stack.interfaces.map(({ origin }) => origin);
  const decidedBy = places.map(({ span }) => ({
    origin: { by: "absent", wanted: "a resolver that it asks", span } as const,
    text,
  }));
  const help =
    own.length === 0
      ? "write `resolvers` for its interface"
      : "name one as `resolvers` of the lease or the advertisement, or for its interface";
  return trialOf(question, { status: "failed", text, told: "", decidedBy, help });
}

// -- findings ------------------------------------------------------------------------------------------------------

function findingOf(
  shown: Trial,
  trials: readonly Trial[],
  assertion: ResolvesAssertion,
  context: CheckContext,
): Finding {
  const { status, packet, picks, limit, help, remembered, goesOn, decidedBy } = shown;
  const holds = status === "passed";
  const results = trials.flatMap((trial) => trial.results);
  return {
    status,
    by: "simulation",
    headline: holds ? passedHeadline(shown, trials, assertion) : failedHeadline(shown, trials),
    decidedBy,
    cells: cellsOf(trials, assertion, context),
    path: holds ? shown.hops.flatMap((hop) => pathOf(hop, undefined, context)) : pathShown(shown, context),
    picks,
    assumptions: [
      ...new Set([
        ...assumptionsOf(results, context),
        ...trials.flatMap(({ assumed }) => assumed),
        ...trials.flatMap(({ alone = [] }) => alone),
      ]),
    ],
    ...(packet === undefined || holds ? {} : { witness: packet }),
    ...(limit === undefined ? {} : { limit }),
    ...(help === undefined ? {} : { help }),
    ...(remembered === undefined ? {} : { remembered }),
    ...(goesOn === undefined ? {} : { goesOn }),
  };
}

/** For each end, over each version of IP that is asked, what became of the worst of those who ask there. */
function cellsOf(
  trials: readonly Trial[],
  { from, looksUp }: ResolvesAssertion,
  { evaluation }: CheckContext,
): readonly Cell[] {
  const families = [...new Set(trials.map(({ question }) => question.family))];
  return resolveEnds(from, evaluation).ends.flatMap((end) => {
    const stacks = new Set(askingIn([end], evaluation).map(({ stack }) => stack));
    return families.flatMap((family): readonly Cell[] => {
      const own = trials.filter(({ question }) => question.family === family && stacks.has(question.source.stack));
      if (own.length === 0) return [];
      const asked = { from: end.label, to: "names", service: looksUp?.value ?? "any name", ...cellFamily(family) };
      return [{ ...asked, expect: "resolves", status: worstAmong(own).status }];
    });
  });
}

/** The way of the exchange that fails. */
function pathShown({ outcome, way }: Trial, context: CheckContext): ReturnType<typeof pathOf> {
  return outcome === undefined ? [] : pathOf(outcome, way, context);
}

function passedHeadline({ told }: Trial, trials: readonly Trial[], { looksUp }: ResolvesAssertion): string {
  const what = looksUp === undefined ? "names are resolved" : `\`${looksUp.value}\` is looked up`;
  const many = trials.length === 1 ? "" : ` for all ${trials.length}`;
  return `${what}${many}: ${told}`;
}

function failedHeadline({ status, text }: Trial, trials: readonly Trial[]): string {
  const others = trials.filter((trial) => trial.status === status).length - 1;
  if (status !== "failed" || others === 0) return text;
  return `${text}; ${others} more ${others === 1 ? "asks" : "ask"} in vain`;
}
