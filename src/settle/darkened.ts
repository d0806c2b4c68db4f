/**
 * A site in which some devices are off and some services do not run.
 */
import type { Id, Network } from "../network/index.ts";

/** The site without these devices' ports and services, and without these services. */
export function darkened(network: Network, off: ReadonlySet<Id>, silent: ReadonlySet<Id>): Network {
  if (off.size === 0 && silent.size === 0) return network;
  const stacks = new Set(network.stacks.flatMap(({ id, device }) => (off.has(device) ? [id] : [])));
  return {
    ...network,
    // Off is off, whoever plugs in.
    ports: network.ports.map((port) =>
      off.has(port.device) ? { ...port, enabled: false, digest: `${port.digest} off` } : port,
    ),
    services: network.services.filter(({ id, stack }) => !silent.has(id) && !stacks.has(stack)),
  };
}
