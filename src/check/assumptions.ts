/**
 * What the documents leave open and a verdict rests on, as sentences: a host with no `serves` is taken to listen on
 * everything, addresses of the internet answer every service, and a prefix for documentation stands for a delegated one.
 */
import {
  addressKey,
  formatPrefix,
  type Prefix,
  prefixKeys,
  type Ranges,
  rangesContain,
  rangesOverlap,
  single,
  unionRanges,
} from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import { directoryOf, type Evaluation } from "../evaluate/index.ts";
import { type Condition, deviceOf, type Id, type Network, type Service, type Stack } from "../network/index.ts";
import { tellListening } from "../result/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import type { CheckContext } from "./context.ts";
import { tunnelsAssumed } from "./tunnel-reason.ts";

/** The assumptions that these exchanges rest on, each once, in order of first use. */
export function assumptionsOf(results: readonly ProbeResult[], context: CheckContext): string[] {
  const sentences = results.flatMap((result) => assumedFor(result, context.evaluation));
  return [...new Set(sentences)];
}

type Arrival = ProbeResult["outcome"]["arrivals"][number];

function assumed({ network, footprint }: Evaluation, arrival: Arrival, { body }: ProbeResult["request"]): string[] {
  const device = deviceOf(arrival.device);
  const { stackAt, servicesOf } = directoryOf(network);
  const stack = stackAt.get(device);
  if (stack?.answersFor === "everywhere") return ["addresses of the internet answer every service"];
  if (stack !== undefined) footprint.listeners(stack.id);
  const listening = (servicesOf.get(stack?.id ?? "") ?? []).some(
    (service) => service.kind === "listen" && service.assumed,
  );
  const isNamed = stack !== undefined && isOfResolver(network, stack, arrival, body.kind === "tcp" ? TCP : UDP);
  return listening && !isNamed ? [tellListening(device)] : [];
}

/** A resolver that is written takes what comes to an address that is written for one of its interfaces: nothing is assumed of that. */
function isOfResolver(network: Network, stack: Stack, { ports, destination }: Arrival, protocol: number): boolean {
  if (ports === undefined) return false;
  const wanted = { protocol, ports: single(BigInt(ports[1])) };
  const key = addressKey(destination);
  const legs = stack.interfaces.filter(({ addresses }) => addresses.some((each) => addressKey(each) === key));
  return listenersOf(network, stack.id, wanted).some(
    (service) => service.kind === "resolve" && legs.some(({ id }) => service.listen.includes(id)),
  );
}

function assumedFor(result: ProbeResult, evaluation: Evaluation): string[] {
  const { network } = evaluation;
  const { request, outcome } = result;
  const arrivals = [
    ...tunnelsAssumed(result, network),
    ...outcome.arrivals.flatMap((arrival) => assumed(evaluation, arrival, request)),
  ];
  if (directoryOf(network).delegated.length === 0) return arrivals;
  const ends = [request, ...outcome.arrivals].flatMap(({ source, destination }) => [source, destination]);
  return [
    ...arrivals,
    ...delegatedAmong(
      ends.reduce<Ranges>((all, end) => unionRanges(all, single(addressKey(end))), []),
      network,
    ),
  ];
}

/** Prefixes that stand for delegated ones, where some of these addresses lie in one, but those that are `lost`. */
export function delegatedAmong(addresses: Ranges, network: Network, isLost?: (id: Id) => boolean): string[] {
  return directoryOf(network).delegated.flatMap(({ id, delegated }) => {
    if (delegated === undefined || isLost?.(id) === true) return [];
    const block: Prefix = { family: 6, value: delegated.value, length: delegated.length };
    if (!rangesOverlap(addresses, [prefixKeys(block)])) return [];
    return [`${deviceOf(delegated.from)} delegates a prefix to ${id}, and ${formatPrefix(block)} stands for it`];
  });
}

/** What is asked for: a protocol, and ports where it has some. */
export type Wanted = {
  /** Protocol number. */
  readonly protocol: number;
  /** Destination ports, of which one is enough; absent: any, or the protocol has none. */
  readonly ports?: Ranges;
};

/** True when something on a stack would take this protocol and one of the ports, wherever it is bound. */
export function listensOn(network: Network, stack: Id, wanted: Wanted): boolean {
  return listenersOf(network, stack, wanted).length > 0;
}

/** What on a stack would take this protocol and one of the ports, wherever it is bound. */
export function listenersOf(network: Network, stack: Id, wanted: Wanted): readonly Service[] {
  return (
    directoryOf(network)
      .servicesOf.get(stack)
      ?.filter((service) => takes(service, wanted)) ?? []
  );
}

/** The line that stopped something on a stack which would take this; undefined: nothing that would was stopped. */
export function stoppedFor({ stopped = [] }: Network, stack: Id, wanted: Wanted): Origin | undefined {
  return stopped.find(({ service }) => service.stack === stack && takes(service, wanted))?.by;
}

const UDP = 17;
const TCP = 6;
const RESOLVER_PORT = single(53n);
const LEASE_PORT = single(67n);

/** Resolvers listen on port 53 (RFC 1035 section 4.2, from memory), DHCP servers on 67 (RFC 2131 section 4.1). */
function takes(service: Service, wanted: Wanted): boolean {
  const { protocol } = wanted;
  if (service.kind === "resolve") return (protocol === UDP || protocol === TCP) && isAmong(wanted, RESOLVER_PORT);
  if (service.kind === "dhcp-server") return protocol === UDP && isAmong(wanted, LEASE_PORT);
  return service.kind === "listen" && service.when.some((match) => match.every((condition) => fits(condition, wanted)));
}

function isAmong({ ports }: Wanted, port: Ranges): boolean {
  return ports === undefined || rangesOverlap(ports, port);
}

function fits(condition: Condition, wanted: Wanted): boolean {
  if (condition.field === "protocol") return rangesContain(condition.within, BigInt(wanted.protocol));
  return condition.field !== "destinationPort" || isAmong(wanted, condition.within);
}
