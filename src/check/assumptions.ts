/**
 * What the documents leave open and a verdict rests on, as sentences: a host with no `serves` is taken to listen on
 * everything, and addresses of the internet answer every service.
 */
import { rangesContain } from "../address/index.ts";
import { type Condition, deviceOf, type Id, type Network, type Service } from "../network/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import type { CheckContext } from "./context.ts";

/** The assumptions that these exchanges rest on, each once, in order of first use. */
export function assumptionsOf(results: readonly ProbeResult[], context: CheckContext): string[] {
  const { network } = context.evaluation;
  const sentences = results.flatMap((result) =>
    result.outcome.arrivals.flatMap((arrival) => assumed(network, arrival.device)),
  );
  return [...new Set(sentences)];
}

function assumed(network: Network, stackOrDevice: Id): string[] {
  const device = deviceOf(stackOrDevice);
  const stack = network.stacks.find((candidate) => candidate.device === device);
  if (stack?.answersFor === "everywhere") return ["addresses of the internet answer every service"];
  const listening = network.services.some(
    (service) => service.kind === "listen" && service.stack === stack?.id && service.assumed,
  );
  return listening ? [`${device} is taken to listen on everything, since it says nothing of what it serves`] : [];
}

/** What is asked for: a protocol, and a port where it has ports. */
export type Wanted = {
  /** Protocol number. */
  readonly protocol: number;
  /** Destination port; absent where the protocol has none. */
  readonly port?: number;
};

/** True when something on a stack would take this protocol and port, wherever it is bound. */
export function listensOn(network: Network, stack: Id, wanted: Wanted): boolean {
  return network.services.some((service) => service.stack === stack && takes(service, wanted));
}

const UDP = 17;
const TCP = 6;

/** Resolvers listen on port 53 (RFC 1035, from memory), DHCP servers on 67 (RFC 2131). */
function takes(service: Service, wanted: Wanted): boolean {
  const { protocol, port } = wanted;
  if (service.kind === "resolve") return (protocol === UDP || protocol === TCP) && port === 53;
  if (service.kind === "dhcp-server") return protocol === UDP && port === 67;
  return service.kind === "listen" && service.when.some((match) => match.every((condition) => fits(condition, wanted)));
}

function fits(condition: Condition, { protocol, port }: Wanted): boolean {
  if (condition.field === "protocol") return rangesContain(condition.within, BigInt(protocol));
  if (condition.field !== "destinationPort" || port === undefined) return true;
  return rangesContain(condition.within, BigInt(port));
}
