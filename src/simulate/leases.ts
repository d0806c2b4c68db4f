/**
 * Clients that wait for a lease or an advertisement, each asking once.
 */
import type { Network, Settled } from "../network/index.ts";
import type { Bindings, SimulationOptions } from "./results.ts";

/** What every waiting client gets, in document order: messages are real frames that bridges, filters and relays may stop. */
export function acquireBindings(network: Network, settled: Settled, options: SimulationOptions = {}): Bindings {
  throw new Error(`not yet: ${network.format} ${settled.picks.length} ${options.limitEvents}`);
}
