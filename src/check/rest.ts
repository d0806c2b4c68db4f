/**
 * A site at rest, looked up as reasons need it: which route a stack takes, the next address on it, and who has an address.
 */
import { type Address, prefixContains, prefixOf } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Id, InterfaceAddress, Network, Settled, SettledStack } from "../network/index.ts";

/** The surroundings of a question: what was described, and what it comes to. */
export type Place = {
  /** The description. */
  readonly network: Network;
  /** The site at rest. */
  readonly settled: Settled;
};

/** An interface that has an address. */
export type Owner = {
  /** Id of its stack. */
  readonly stack: Id;
  /** Its id. */
  readonly interface: Id;
  /** The address with its prefix. */
  readonly address: InterfaceAddress;
};

/** A route that forwards, with its first hop. */
export type Way = {
  /** The line of the route, or of what brought it. */
  readonly origin: Origin;
  /** Id of the interface it leaves by. */
  readonly egress: Id;
  /** The address asked for on that link. */
  readonly hop: Address;
  /** False where that is the destination itself. */
  readonly isRouted: boolean;
};

/** A stack with all it learned. */
export function stackIn({ stacks }: Settled, id: Id): SettledStack | undefined {
  return stacks.find(({ stack }) => stack === id);
}

/** The way a stack takes to an address; undefined: it has no route there, or one that refuses. */
export function wayOf({ routes }: SettledStack, destination: Address): Way | undefined {
  const route = routes.find(({ family, prefix, length }) =>
    prefixContains({ family, value: prefix, length }, destination),
  );
  if (route?.action.do !== "forward") return undefined;
  const [hop] = route.action.hops;
  if (hop === undefined) return undefined;
  const { egress, via } = hop;
  const address: Address = via === undefined ? destination : { family: destination.family, value: via };
  return { origin: route.origin, egress, hop: address, isRouted: via !== undefined };
}

/** The line that names the next hop of a way: of a leased one the word of the pool, where there is one. */
export function namingLine({ origin, egress, hop }: Way, { network, settled }: Place): Origin {
  const lease = settled.bindings.find(
    ({ interface: leg, routes }) => leg === egress && routes.some(({ via }) => via === hop.value),
  );
  return (lease && routerLine(lease.server, hop.value, network)) ?? origin;
}

/** The word of a pool that tells its clients a router; undefined: it is none that was written there. */
export function routerLine(pool: Id, router: bigint, { services }: Network): Origin | undefined {
  const server = services.find(({ id }) => id === pool);
  if (server?.kind !== "dhcp-server") return undefined;
  const line = server.routerLines?.[server.routers.indexOf(router)];
  return line?.by === "written" ? line : undefined;
}

/** Who has an address. */
export function ownersOf(wanted: Address, { stacks }: Settled): readonly Owner[] {
  return stacks.flatMap(({ stack, interfaces }) =>
    interfaces.flatMap(({ interface: id, addresses }) =>
      addresses.flatMap((address) => (isEqual(address, wanted) ? [{ stack, interface: id, address }] : [])),
    ),
  );
}

/** Whether one of a stack's own addresses is this one. */
export function isOwn(address: Address, { interfaces }: SettledStack): boolean {
  return interfaces.some(({ addresses }) => addresses.some((own) => isEqual(own, address)));
}

/** Whether an address lies in the on-link prefix of another. */
export function covers(own: InterfaceAddress, address: Address): boolean {
  return own.family === address.family && prefixContains(prefixOf(own, own.prefixLength), address);
}

function isEqual(a: Address, b: Address): boolean {
  return a.family === b.family && a.value === b.value;
}
