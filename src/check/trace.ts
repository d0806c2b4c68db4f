/**
 * One exchange told in full: every source of an end with every target, each in all outcomes. The same exchanges that
 * `connects` judges, without an assertion.
 */
import { type Address, formatAddress, formatService, parseAddress, type Service } from "../address/index.ts";
import type { Diagnostic } from "../diagnose/index.ts";
import type { Target } from "../document/index.ts";
import type { Evaluation, Outcome, World } from "../evaluate/index.ts";
import { type Names, namesOf, type Traced, tellFate, tellPath } from "../result/index.ts";
import type { CaptureSink } from "../simulate/index.ts";
import { resolveEnds } from "./ends.ts";
import { addressesFor, type Destination, destinationsOf, requestsTo, type Source, sourcesOf } from "./exchange.ts";
import { placesOf } from "./places.ts";
import { failureText, linesFor } from "./question.ts";

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

/** Every exchange in every outcome, or what is wrong with the names. */
export function traceExchanges(request: TraceRequest): {
  readonly traced: readonly Traced[];
  readonly diagnostics: readonly Diagnostic[];
  /** The end at which nobody is, of two that are named well. */
  readonly nobody?: "from" | "to";
} {
  const { network } = request.evaluation;
  const from = resolveEnds(listOf(request.from), request.evaluation);
  const to = resolveEnds(listOf(request.to), request.evaluation);
  const names = namesOf(network);
  const sources = from.ends.flatMap((end) => sourcesOf(end, network));
  const destinations = to.ends.flatMap((end) => destinationsOf(end, network));
  const traced = sources.flatMap((source) =>
    destinations
      .filter((destination) => destination.party?.stack !== source.stack)
      .flatMap((destination) => tracePair(source, destination, request, names)),
  );
  const diagnostics = [...from.diagnostics, ...to.diagnostics];
  if (sources.length === 0) return { traced, diagnostics, nobody: "from" };
  return destinations.length === 0 ? { traced, diagnostics, nobody: "to" } : { traced, diagnostics };
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

function tracePair(source: Source, destination: Destination, request: TraceRequest, names: Names): Traced[] {
  const { evaluation, service } = request;
  const labels = { from: source.label, to: destination.label, service: formatService(service) };
  return evaluation.worlds(source.up).worlds.flatMap((world) => {
    const addresses = addressesFor(evaluation.network, world, source, destination);
    if (addresses.length === 0) return [withoutAddress(labels, source, world)];
    const tries: Traced[][] = [];
    for (const address of addresses) {
      const traced = traceAddress(address, labels, { source, world, request, names });
      // As a client does: what works is used, and the next address is not tried.
      if (traced.every(({ works }) => works)) return traced;
      tries.push(traced);
    }
    return tries.flat();
  });
}

type Tracing = {
  readonly source: Source;
  readonly world: World;
  readonly request: TraceRequest;
  readonly names: Names;
};

function traceAddress(address: Address, labels: Labels, tracing: Tracing): Traced[] {
  const { source, world, request } = tracing;
  return requestsTo(address, { source, service: request.service, world }).flatMap((probe) => {
    const { outcomes } = request.evaluation.exchange(world, probe, request.capture);
    return outcomes.map((outcome) => tracedOf(outcome, { ...labels, address: formatAddress(address) }, tracing));
  });
}

type Labels = { readonly from: string; readonly to: string; readonly service: string };

function withoutAddress(labels: Labels, source: Source, world: World): Traced {
  const failure = world.failures.find((each) => source.interfaces.includes(each.interface));
  const sentence =
    failure === undefined ? "has no address of a family that both ends speak" : `got no address: ${failure.text}`;
  const decidedBy = placesOf((failure?.because ?? []).map((origin) => ({ origin, text: sentence })));
  return { ...labels, address: "", works: false, sentence, path: [], answerPath: [], decidedBy, picks: world.picks };
}

function tracedOf(
  { result, picks }: Outcome,
  labels: Labels & { readonly address: string },
  { world, request, names }: Tracing,
): Traced {
  const { network } = request.evaluation;
  const works = result.outcome.end === "answered" && result.stalls !== true;
  const sentence = works
    ? `${tellFate(result.fate, names)}, and the answer comes back`
    : failureText(result, world, names);
  return {
    ...labels,
    works,
    sentence,
    path: tellPath(result.path, names, result.fate.end),
    answerPath: tellPath(result.answerPath, names),
    decidedBy: works ? [] : placesOf(linesFor(result, world, network).map((origin) => ({ origin, text: sentence }))),
    picks,
  };
}
