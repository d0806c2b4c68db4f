/**
 * Which line a person would change when an exchange did not come to its end. Where a packet ends is often not where the
 * mistake is: a forward took it away before, a route named a neighbour that is not there, a service listens elsewhere,
 * nothing translated it on its way out, or its answer left by another way. Each reason is told by the description itself.
 */
import { type Address, addressKey, keyAddress, rangesContain, single } from "../address/index.ts";
import { isSameSpan, type Origin } from "../diagnose/index.ts";
import {
  type Condition,
  deviceOf,
  type Fate,
  type Id,
  type Network,
  type PathStep,
  type Rule,
  type Stack,
  type TranslateAction,
  type TranslateTable,
} from "../network/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import { listenersOf, stoppedFor } from "./assumptions.ts";
import { neighbourReasons } from "./neighbour-reason.ts";
import { otherUplink } from "./other-uplink.ts";
import { covers, isOwn, namingLine, ownersOf, type Place, stackIn, wayOf } from "./rest.ts";
import { noCableIn } from "./unjoined.ts";
import { deadCablesOf, looseCablesOf } from "./wires.ts";

const TCP = 6;
const UDP = 17;

/** Lines to change, most telling first; empty: the place where the packet ended tells it best. */
export function reasonsFor(result: ProbeResult, place: Place): readonly Origin[] {
  const found =
    diverted(result, place) ??
    notForwarded(result, place) ??
    deadEnd(result, place) ??
    untranslated(result, place) ??
    onOtherLeg(result, place) ??
    listensElsewhere(result, place) ??
    otherUplink(result, place.network)?.origin ??
    partedWays(result, place);
  return found === undefined ? withoutNeighbour(result, place) : [found];
}

// -- a forward that takes what passes by -----------------------------------------------------------------------------

const NARROWING: ReadonlySet<string> = new Set(["ingress", "destination"]);

/** A forward leads to an address that nobody has, or, without `in` and `dest`, took a packet on its way to somebody else. */
function diverted({ path, request }: ProbeResult, { network, settled }: Place): Origin | undefined {
  const found = forwardOn(path, network);
  const target = targetOf(found?.rule);
  if (target !== undefined && ownersOf(target, settled).length === 0) return found?.rule.origin;
  const router = found && stackIn(settled, found.at);
  if (router === undefined || isOwn(request.destination, router)) return undefined;
  const isAnyones = found?.rule.when.some((match) => match.every(({ field }) => !NARROWING.has(field)));
  return isAnyones ? found?.rule.origin : undefined;
}

/** The first destination translation on a way, with the stack that did it. */
function forwardOn(
  path: readonly PathStep[],
  network: Network,
): { readonly at: Id; readonly rule: Rule<TranslateAction> } | undefined {
  for (const { did, at, origin } of path) {
    const stack = did === "translate" ? network.stacks.find(({ id }) => id === at) : undefined;
    const table = stack && translationOf(stack, "destination", network);
    const rule = table?.rules.find((each) => each.action.do === "rewrite" && isSameSpan(each.origin.span, origin.span));
    if (rule !== undefined) return { at, rule };
  }
  return undefined;
}

const FORWARDED: ReadonlySet<string> = new Set(["family", "protocol", "destinationPort"]);

/** What was sent to a router itself ended there, and a forward of that service let it be: for what else the forward asks. */
function notForwarded({ fate, path, request }: ProbeResult, { network, settled }: Place): Origin | undefined {
  if (fate.end !== "dropped" && fate.end !== "refused") return undefined;
  const { body, destination, source } = request;
  const router = stackIn(settled, fate.at);
  if (router === undefined || !("destinationPort" in body) || !isOwn(destination, router)) return undefined;
  if (path.some(({ did, at }) => did === "translate" && at === fate.at)) return undefined;
  // Where the router serves it, too, nothing says that a forward was meant.
  const wanted = { protocol: body.kind === "tcp" ? TCP : UDP, ports: single(BigInt(body.destinationPort)) };
  if (listenersOf(network, fate.at, wanted).length > 0 || stoppedFor(network, fate.at, wanted) !== undefined)
    return undefined;
  const stack = network.stacks.find(({ id }) => id === fate.at);
  const forwards = stack && translationOf(stack, "destination", network)?.rules.filter(isForward);
  const fields = new Map([
    ["family", BigInt(destination.family)],
    ["protocol", BigInt(wanted.protocol)],
    ["destinationPort", BigInt(body.destinationPort)],
    ["source", addressKey(source)],
    ["destination", addressKey(destination)],
  ]);
  const meant = forwards?.flatMap(({ when }) =>
    when.filter((match) => match.every((each) => !FORWARDED.has(each.field) || fits(each, fields))),
  );
  // Neither address keeps it away: then it is the interface by which it came.
  const [first] = meant ?? [];
  const apart = first?.find((each) => fields.has(each.field) && !fits(each, fields));
  return (apart ?? first?.find(({ field }) => field === "ingress"))?.origin;
}

function isForward({ action }: Rule<TranslateAction>): boolean {
  return action.do === "rewrite";
}

function fits(condition: Condition, fields: ReadonlyMap<string, bigint>): boolean {
  const value = fields.get(condition.field);
  return value !== undefined && "within" in condition && rangesContain(condition.within, value);
}

function translationOf(stack: Stack, end: "source" | "destination", { tables }: Network): TranslateTable | undefined {
  const step = [...stack.received, ...stack.onward].find((each) => each.op === "translate" && each.end === end);
  const table = step?.op === "translate" ? tables.find(({ id }) => id === step.table) : undefined;
  return table?.kind === "translate" ? table : undefined;
}

// -- a next hop that sends nothing on --------------------------------------------------------------------------------

/** A host was named as the way out: by the gateway, route or lease of whoever sent it the packet. */
function deadEnd(
  { answerFate, answerPath, fate, path, request, outcome }: ProbeResult,
  place: Place,
): Origin | undefined {
  const [end, way, aim] =
    fate.end === "delivered"
      ? [answerFate, answerPath, outcome.arrivals[0]?.source]
      : [fate, path, request.destination];
  if (end?.end !== "dropped" && end?.end !== "refused") return undefined;
  // Forwarding that is written as off is itself the line to change.
  if (end.reason !== "no-transit" || end.origin.by !== "default") return undefined;
  const sender = way.findLast(({ did, at }) => did === "route" && at !== end.at);
  const here = sender && stackIn(place.settled, sender.at);
  const taken = here && aim && wayOf(here, aim);
  return taken?.isRouted ? namingLine(taken, place) : undefined;
}

// -- out with an address that nobody knows ---------------------------------------------------------------------------

/** The internet got it, or sent it on, and knows no way back to the address that it came from: the router before it translated nothing. */
function untranslated({ answerFate, outcome, path }: ProbeResult, { network, settled }: Place): Origin | undefined {
  const [arrival] = outcome.arrivals;
  const upstream = network.stacks.find(({ id }) => id === answerFate?.at);
  const passed = path.findIndex(({ at }) => at === upstream?.id);
  if (upstream?.answersFor !== "everywhere" || passed < 0) return undefined;
  const known = stackIn(settled, upstream.id)?.interfaces.flatMap(({ addresses }) => addresses) ?? [];
  if (arrival === undefined || known.some((address) => covers(address, arrival.source))) return undefined;
  const last = path.slice(0, passed).findLast(({ did }) => did === "transmit");
  const router = network.stacks.find(({ id }) => id === last?.at);
  if (router === undefined) return undefined;
  const { span } = (translationOf(router, "source", network) ?? router).origin;
  return { by: "absent", wanted: "a translation of the source", span };
}

// -- a host that answers on the leg alone that has the address -------------------------------------------------------

/** Whoever got it, or the answer, has the address on another leg, and is told that this is not enough. */
function onOtherLeg({ answerFate, fate }: ProbeResult, { network }: Place): Origin | undefined {
  const end = fate.end === "delivered" ? answerFate : fate;
  if (end?.end !== "dropped" || end.reason !== "wrong-leg") return undefined;
  return network.stacks.find(({ id }) => id === end.at)?.hostModel;
}

// -- a service that does not run, or listens elsewhere ---------------------------------------------------------------

/** Something on the far end would take it, but was stopped, or is not at this address. */
function listensElsewhere({ fate, outcome, request: { body } }: ProbeResult, { network }: Place): Origin | undefined {
  if (fate.end !== "refused" || fate.reason !== "no-listener") return undefined;
  if (body.kind !== "tcp" && body.kind !== "udp") return undefined;
  const port = outcome.arrivals[0]?.ports?.[1] ?? body.destinationPort;
  const wanted = { protocol: body.kind === "tcp" ? TCP : UDP, ports: single(BigInt(port)) };
  const [elsewhere] = listenersOf(network, fate.at, wanted);
  return stoppedFor(network, fate.at, wanted) ?? elsewhere?.origin ?? missingService(fate.at, network);
}

/** Nothing there takes it: where it would stand beside what the stack serves, else beside its administration. */
function missingService(stack: Id, { services }: Network): Origin | undefined {
  const listed = services.flatMap((service) => (service.kind === "listen" && service.stack === stack ? [service] : []));
  const beside = listed.find(({ administers, assumed }) => !administers && !assumed) ?? listed[0];
  return beside && { by: "absent", wanted: "this service", span: beside.origin.span };
}

// -- the answer goes another way -------------------------------------------------------------------------------------

/** It opened and then stalled, for a device on its way sees none of the answers: they leave by another leg of the far end. */
function partedWays({ fate, outcome, path, stalls }: ProbeResult, { settled }: Place): Origin | undefined {
  const [arrival] = outcome.arrivals;
  const end = settled.stacks.find(({ stack }) => deviceOf(stack) === arrival?.device);
  // Who has one leg only has no choice.
  if (stalls !== true || arrival === undefined || end === undefined || end.interfaces.length < 2) return undefined;
  const seen = new Set<Id>([end.stack]);
  for (const at of seen) {
    const here = stackIn(settled, at);
    const way = here && wayOf(here, arrival.source);
    const [next] = way === undefined ? [] : ownersOf(way.hop, settled);
    if (next === undefined || deviceOf(next.stack) === deviceOf(fate.at)) return undefined;
    if (next.stack === path[0]?.at) return wayOf(end, arrival.source)?.origin;
    seen.add(next.stack);
  }
  return undefined;
}

// -- nobody answers for the next address -----------------------------------------------------------------------------

function withoutNeighbour(result: ProbeResult, place: Place): readonly Origin[] {
  const isAnswer = result.fate.end === "delivered";
  const fate = isAnswer ? result.answerFate : result.fate;
  if (fate?.end !== "dropped" && fate?.end !== "refused") return [];
  if (fate.reason === "no-route") return fate.origin.by === "absent" ? [] : withoutGateway(fate.at, place);
  if (fate.reason === "interface-down") {
    const loose = looseCablesOf(deviceOf(fate.at), place.network);
    const dead = loose.length > 0 ? loose : deadCablesOf(deviceOf(fate.at), place.network, place.settled);
    return dead.length > 0 ? dead : emptySockets(fate.at, place);
  }
  const here = fate.reason === "no-neighbour" ? stackIn(place.settled, fate.at) : undefined;
  const led = isAnswer ? undefined : forwardOn(result.path, place.network)?.rule;
  const destination = isAnswer ? backTo(fate, result, place) : (targetOf(led) ?? result.request.destination);
  return here === undefined || destination === undefined ? [] : neighbourReasons(here, destination, led?.origin, place);
}

/** Where an answer is bound for: who translated the source of the request has put it back by then. */
function backTo(fate: Fate, { outcome, path, request }: ProbeResult, { network }: Place): Address | undefined {
  const isHere = ({ at }: PathStep) => at === fate.at;
  const translated = path.findIndex(({ did, at, origin }) => {
    const stack = did === "translate" ? network.stacks.find(({ id }) => id === at) : undefined;
    const table = stack && translationOf(stack, "source", network);
    return table?.rules.some((rule) => rule.action.do === "rewrite" && isSameSpan(rule.origin.span, origin.span));
  });
  const isBefore = translated >= 0 && path.slice(0, translated + 1).some(isHere);
  return isBefore ? request.source : outcome.arrivals[0]?.source;
}

/** Sockets of a device in which no cable is, though its interfaces stand there. */
function emptySockets(at: Id, { network: { bonds, links, ports, stacks } }: Place): readonly Origin[] {
  const legs = stacks.find(({ id }) => id === at)?.interfaces ?? [];
  const used = new Set(legs.flatMap(({ on }) => bonds.find(({ id }) => id === on)?.members ?? [on]));
  const empty = ports.filter(({ id }) => used.has(id) && !links.some(({ ends }) => ends.includes(id)));
  return empty.map(({ id, origin }) => noCableIn([id], origin));
}

/** Who sends on nothing and knows no way out: its legs with an address of their own, where a gateway would stand. */
function withoutGateway(at: Id, { network }: Place): readonly Origin[] {
  const stack = network.stacks.find(({ id }) => id === at);
  const isRouter = stack?.onward.some(({ op }) => op === "hop-limit") === true;
  const legs = isRouter ? [] : (stack?.interfaces ?? []);
  const stated = legs.filter(({ addresses, awaits }) => addresses.length > 0 && awaits.length === 0);
  return stated.map(({ origin: { span } }) => ({ by: "absent", wanted: "a gateway", span }));
}

/** The one address that a forward leads to. */
function targetOf(rule: Rule<TranslateAction> | undefined): Address | undefined {
  const to = rule?.action.do === "rewrite" ? rule.action.to : undefined;
  const [run] = typeof to === "object" ? to : [];
  return run === undefined || run[0] !== run[1] ? undefined : keyAddress(run[0]);
}
