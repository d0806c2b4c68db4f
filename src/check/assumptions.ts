/**
 * What the documents leave open and a verdict rests on, as sentences: a host with no `serves` is taken to listen on
 * everything, and addresses of the internet answer every service.
 */
import { rangesContain } from "../address/index.ts";
import { deviceOf, type Id, type Network } from "../network/index.ts";
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

/** True when a listener of a stack would take this protocol and port, wherever it is bound. */
export function listensOn(
  network: Network,
  stack: Id,
  service: { readonly protocol: number; readonly port?: number },
): boolean {
  return network.services.some(
    (each) =>
      each.kind === "listen" &&
      each.stack === stack &&
      each.when.some((match) =>
        match.every((condition) => {
          if (condition.field === "protocol") return rangesContain(condition.within, BigInt(service.protocol));
          if (condition.field !== "destinationPort" || service.port === undefined) return true;
          return rangesContain(condition.within, BigInt(service.port));
        }),
      ),
  );
}
