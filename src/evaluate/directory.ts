/**
 * The parts of a network by id: an assertion names a few of a thousand, and a file of assertions asks a thousand times.
 */
import {
  type Device,
  deviceOf,
  type Group,
  type Id,
  type Interface,
  type Link,
  type Network,
  type Service,
  type Stack,
} from "../network/index.ts";

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
  /** Interfaces with a prefix that stands for a delegated one, in document order. */
  readonly delegated: readonly Interface[];
  /** Links that are tunnels. */
  readonly tunnels: readonly Link[];
  /** Links that are up on demand only, by the devices at their ends. */
  readonly onDemandOf: ReadonlyMap<Id, readonly Id[]>;
};

const known = new WeakMap<Network, Directory>();

/** The directory of a network, made once. */
export function directoryOf(network: Network): Directory {
  const earlier = known.get(network);
  if (earlier !== undefined) return earlier;
  const found: Directory = {
    groups: byId(network.groups),
    devices: byId(network.devices),
    stacks: byId(network.stacks),
    stackAt: new Map(network.stacks.map((stack) => [stack.device, stack])),
    stackOf: new Map(network.stacks.flatMap((stack) => stack.interfaces.map((leg) => [leg.id, stack] as const))),
    servicesOf: grouped(network.services.map((service) => [service.stack, service])),
    delegated: network.stacks.flatMap(({ interfaces }) => interfaces.filter((leg) => leg.delegated !== undefined)),
    tunnels: network.links.filter(({ outer }) => outer !== undefined),
    onDemandOf: grouped(
      network.links.flatMap(({ id, onDemand, ends }) =>
        onDemand ? [...new Set(ends.map(deviceOf))].map((device) => [device, id] as const) : [],
      ),
    ),
  };
  known.set(network, found);
  return found;
}

function byId<Part extends { readonly id: Id }>(parts: readonly Part[]): ReadonlyMap<Id, Part> {
  return new Map(parts.map((part) => [part.id, part]));
}

/** Values by their keys, each list in the order given. */
export function grouped<Value>(pairs: readonly (readonly [Id, Value])[]): ReadonlyMap<Id, readonly Value[]> {
  const groups = new Map<Id, Value[]>();
  for (const [key, value] of pairs) {
    const beside = groups.get(key);
    if (beside === undefined) groups.set(key, [value]);
    else beside.push(value);
  }
  return groups;
}
