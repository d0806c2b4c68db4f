/**
 * The parts of a network by id: an assertion names a few of a thousand, and a file of assertions asks a thousand times.
 */
import type { Device, Group, Id, Network, Service, Stack } from "../network/index.ts";

/** Parts of a network at hand. */
export type Directory = {
  /** Groups by id. */
  readonly groups: ReadonlyMap<Id, Group>;
  /** Devices by id. */
  readonly devices: ReadonlyMap<Id, Device>;
  /** Stacks by id. */
  readonly stacks: ReadonlyMap<Id, Stack>;
  /** Stacks by the device they belong to. */
  readonly stackAt: ReadonlyMap<Id, Stack>;
  /** Stacks by their interfaces. */
  readonly stackOf: ReadonlyMap<Id, Stack>;
  /** Services by stack, in document order. */
  readonly servicesOf: ReadonlyMap<Id, readonly Service[]>;
};

const known = new WeakMap<Network, Directory>();

/** The directory of a network, made once. */
export function directoryOf(network: Network): Directory {
  const earlier = known.get(network);
  if (earlier !== undefined) return earlier;
  const services = new Map<Id, Service[]>();
  for (const service of network.services) {
    const beside = services.get(service.stack);
    if (beside === undefined) services.set(service.stack, [service]);
    else beside.push(service);
  }
  const found: Directory = {
    groups: byId(network.groups),
    devices: byId(network.devices),
    stacks: byId(network.stacks),
    stackAt: new Map(network.stacks.map((stack) => [stack.device, stack])),
    stackOf: new Map(network.stacks.flatMap((stack) => stack.interfaces.map((leg) => [leg.id, stack] as const))),
    servicesOf: services,
  };
  known.set(network, found);
  return found;
}

function byId<Part extends { readonly id: Id }>(parts: readonly Part[]): ReadonlyMap<Id, Part> {
  return new Map(parts.map((part) => [part.id, part]));
}
