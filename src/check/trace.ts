/**
 * One exchange told in full: every source of an end with every target, each in all outcomes. The same exchanges that
 * `connects` judges, without an assertion.
 */
import { type Address, formatAddress, formatService, parseAddress, type Service } from "../address/index.ts";
import type { Diagnostic } from "../diagnose/index.ts";
import type { Target } from "../document/index.ts";
import type { Evaluation, Outcome, World } from "../evaluate/index.ts";
import type { Pick } from "../network/index.ts";
import { type Names, namesOf, type Traced, tellFate, tellPath } from "../result/index.ts";
import type { CaptureSink } from "../simulate/index.ts";
import { resolveEnds } from "./ends.ts";
import { addressesFor, type Destination, destinationsOf, requestsTo, type Source, sourcesOf } from "./exchange.ts";
import { failureText, linesFor } from "./failure-text.ts";
import { tellLack } from "./families.ts";
import { nobodyBeyond } from "./nobody-beyond.ts";
import { placesOf } from "./places.ts";
import { isSamePick } from "./question.ts";
import { strayFault } from "./stray.ts";

/** What `trace` asks. */
export type TraceRequest = {
  /** The network under question. */
  readonly evaluation: Evaluation;
  /** A name, an address, or `internet`. */
  readonly from: string;
  /** Likewise. */
  readonly to: string;
  /** What is exchanged. */
  readonly service: Service;
  /** Gets every frame of every exchange, each of which begins at time 0. */
  readonly capture?: CaptureSink;
};

/** Every exchange in every outcome, or what is wrong with the names. What several outcomes share is told once. */
export function traceExchanges(request: TraceRequest): {
  readonly traced: readonly Traced[];
  readonly diagnostics: readonly Diagnostic[];
  /** Why some outcomes are not among them. */
  readonly limit?: string;
  /** The end at which nobody is, of two that are named well. */
  readonly nobody?: "from" | "to";
} {
  const { network } = request.evaluation;
  const from = resolveEnds(listOf(request.from), request.evaluation);
  const to = resolveEnds(listOf(request.to), request.evaluation);
  const names = namesOf(network);
  const limits: string[] = [];
  const sources = from.ends.flatMap((end) => sourcesOf(end, network));
  const destinations = to.ends.flatMap((end) => destinationsOf(end, network));
  const traced = sources.flatMap((source) =>
    destinations
      .filter((destination) => destination.party?.stack !== source.stack)
      .flatMap((destination) => withoutRepeats(tracePair(source, destination, { request, names, limits }))),
  );
  const [limit] = limits;
  const diagnostics = [...from.diagnostics, ...to.diagnostics];
  if (sources.length === 0) return { traced, diagnostics, nobody: "from" };
  if (destinations.length === 0) return { traced, diagnostics, nobody: "to" };
  return limit === undefined ? { traced, diagnostics } : { traced, diagnostics, limit };
}

/** A word of the command line as a list of one; its span is that of no file. */
function listOf(word: string): Parameters<typeof resolveEnds>[0] {
  const span = { file: 0, start: 0, end: 0 };
  return { value: [{ value: targetOf(word), span }], span };
}

function targetOf(word: string): Target {
  const address = parseAddress(word);
  if (address !== undefined)
    return { by: "addresses", family: address.family, first: address.value, last: address.value };
  if (word === "internet" || word === "internet/public")
    return { by: "internet", scope: word === "internet" ? "all" : "public" };
  const [name = "", ...part] = word.split("/");
  return part.length === 0 ? { by: "name", name } : { by: "name", name, part: part.join("/") };
}

function tracePair(source: Source, destination: Destination, asked: Asked): Traced[] {
  const { evaluation, service } = asked.request;
  const labels = { from: source.label, to: destination.label, service: formatService(service) };
  const { worlds, limit } = evaluation.worlds(source.up);
  if (limit !== undefined) asked.limits.push(limit);
  return worlds.flatMap((world) => {
    const addresses = addressesFor(evaluation, world, { source, destination });
    if (addresses.length === 0) return [withoutAddress(labels, source, world)];
    const tries: Traced[][] = [];
    for (const address of addresses) {
      const traced = traceAddress(address, labels, { ...asked, source, destination, world });
      // As a client does: what works is used, and the next address is not tried.
      if (traced.every(({ works }) => works)) return traced;
      tries.push(traced);
    }
    return tries.flat();
  });
}

/** What is asked of every pair; `limits` gets why outcomes were left out. */
type Asked = { readonly request: TraceRequest; readonly names: Names; readonly limits: string[] };

type Tracing = Asked & { readonly source: Source; readonly destination: Destination; readonly world: World };

/** What several outcomes share but for picks is told once, under the picks that they have in common, where no other outcome has these. */
function withoutRepeats(traced: readonly Traced[]): readonly Traced[] {
  const alike = new Map<string, Traced[]>();
  for (const each of traced) {
    const { picks: _, ...told } = each;
    const key = JSON.stringify(told);
    alike.set(key, [...(alike.get(key) ?? []), each]);
  }
  return [...alike.values()].flatMap((group): readonly Traced[] => {
    const [first] = group;
    if (first === undefined) return [];
    const picks = first.picks.filter((pick) => group.every((each) => hasPick(each, pick)));
    const isOwn = traced.every((each) => group.includes(each) || !picks.every((pick) => hasPick(each, pick)));
    return isOwn ? [{ ...first, picks }] : group;
  });
}

function hasPick({ picks }: Traced, pick: Pick): boolean {
  return picks.some((each) => isSamePick(each, pick));
}

function traceAddress(address: Address, labels: Labels, tracing: Tracing): Traced[] {
  const { source, world, request, limits } = tracing;
  const { evaluation, service } = request;
  return requestsTo(address, { source, service, world, network: evaluation.network }).flatMap((probe) => {
    const { outcomes, limit } = evaluation.exchange(world, probe, request.capture);
    if (limit !== undefined) limits.push(limit);
    return outcomes.map((outcome) => tracedOf(outcome, { ...labels, address: formatAddress(address) }, tracing));
  });
}

type Labels = { readonly from: string; readonly to: string; readonly service: string };

function withoutAddress(labels: Labels, source: Source, world: World): Traced {
  const failure = world.failures.find((each) => source.interfaces.includes(each.interface));
  const sentence = failure === undefined ? "has no address of a family that both ends speak" : tellLack(failure);
  const decidedBy = placesOf((failure?.because ?? []).map((origin) => ({ origin, text: sentence })));
  return { ...labels, address: "", works: false, sentence, path: [], answerPath: [], decidedBy, picks: world.picks };
}

function tracedOf(
  { result, picks }: Outcome,
  labels: Labels & { readonly address: string },
  { source, destination, world, request, names }: Tracing,
): Traced {
  const { network } = request.evaluation;
  const isAnswered = result.outcome.end === "answered" && result.stalls !== true;
  const beyond = isAnswered ? nobodyBeyond(result, destination, { world, network }) : undefined;
  const stray = isAnswered
    ? strayFault(result, { source, destination }, { network, settled: world.settled })
    : undefined;
  const lost = beyond ?? stray;
  const works = isAnswered && lost === undefined;
  const sentence = works
    ? `${tellFate(result.fate, names)}, and the answer comes back`
    : (lost?.text ?? failureText(result, world, { names, evaluation: request.evaluation }));
  return {
    ...labels,
    works,
    sentence,
    path: beyond === undefined ? tellPath(result.path, names, result.fate) : tellPath(beyond.way, names),
    answerPath: beyond === undefined ? tellPath(result.answerPath, names, result.answerFate) : [],
    decidedBy: works
      ? []
      : placesOf(
          (lost === undefined ? linesFor(result, world, network) : [lost.origin]).map((origin) => ({
            origin,
            text: sentence,
          })),
        ),
    picks,
  };
}
