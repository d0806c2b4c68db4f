/**
 * A site in which some devices are off and some services do not run.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Id, Network } from "../network/index.ts";

/** The site without these devices' ports and services, and without the services of `silent`, which says of each the line that stopped it. */
export function darkened(network: Network, off: ReadonlySet<Id>, silent: ReadonlyMap<Id, Origin>): Network {
  if (off.size === 0 && silent.size === 0) return network;
  const stacks = new Set(network.stacks.flatMap(({ id, device }) => (off.has(device) ? [id] : [])));
  const before = (network.stopped ?? []).filter(({ service }) => !stacks.has(service.stack));
  const now = network.services.flatMap((service) => {
    const by = stacks.has(service.stack) ? undefined : silent.get(service.id);
    return by === undefined ? [] : [{ service, by }];
  });
  return {
    ...network,
    // Off is off, whoever plugs in.
    ports: network.ports.map((port) =>
      off.has(port.device) ? { ...port, enabled: false, digest: `${port.digest} off` } : port,
    ),
    services: network.services.filter(({ id, stack }) => !silent.has(id) && !stacks.has(stack)),
    ...(before.length + now.length === 0 ? {} : { stopped: [...before, ...now] }),
  };
}
