/**
 * A simulation: one site at rest, with the state that frames leave behind as they pass.
 */
import type { Id, Network, Settled } from "../network/index.ts";
import type { Frame, IpPacket } from "../wire/index.ts";
import type { Injection, ProbeRequest, ProbeResult, SimulationOptions } from "./results.ts";

/** Moves frames through a site. Address tables, neighbour caches, connections and translations start empty and stay between calls. */
export class Simulation {
  /** Begins an exchange and lets it come to its end. */
  probe(request: ProbeRequest): ProbeResult {
    throw new Error(`not yet: probe ${request.from}`);
  }

  /** Lets a frame enter a device at an attachment and follows everything that becomes of it. */
  inject(entry: { readonly at: Id; readonly frame: Frame }): Injection {
    throw new Error(`not yet: inject ${entry.at}`);
  }

  /** Sends a packet from a stack as it stands, whatever its source, and follows everything that becomes of it. */
  sendFrom(stack: Id, packet: IpPacket, options: { readonly egress?: Id } = {}): Injection {
    throw new Error(`not yet: send from ${stack} ${packet.hopLimit} ${options.egress}`);
  }
}

/** A simulation of a site at rest, with nothing learned yet. */
export function createSimulation(network: Network, settled: Settled, options: SimulationOptions = {}): Simulation {
  throw new Error(`not yet: ${network.format} ${settled.picks.length} ${options.limitEvents}`);
}
