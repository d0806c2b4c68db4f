/**
 * Which exchanges an assertion of `connects` or `arrives` stands for: every source with every target and service.
 *
 * Which address of a target with several legs is used (semantics, section 1): the one that its name gives the client,
 * else the one on a link they share, else the one on the leg with the gateway, else its first.
 */
import {
  type Address,
  addressKey,
  EMPTY_RANGES,
  type Family,
  intersectRanges,
  isEcho,
  isLinkLocal,
  keyAddress,
  type Ranges,
  rangeOf,
  rangesContain,
  type Service,
} from "../address/index.ts";
import { directoryOf, type Evaluation, settledStack, type World } from "../evaluate/index.ts";
import {
  deviceOf,
  type Group,
  type Id,
  internetAddresses,
  isBeyond,
  type Network,
  type Party,
  type SettledStack,
} from "../network/index.ts";
import { deviceName } from "../result/index.ts";
import type { ProbeRequest } from "../simulate/index.ts";
import { beginningBeyond, familiesBeyond } from "./beyond.ts";
import { type End, isInternet } from "./ends.ts";

/** A stack that begins, with the legs it may use. */
export type Source = Party & {
  /** As people know it. */
  readonly label: string;
  /** On-demand links that must be up for it to exist. */
  readonly up: readonly Id[];
  /** It sends from one of these, when addresses were written. */
  readonly within?: Ranges;
  /** It is anybody on the internet. Absent: it is this very device. */
  readonly isInternet?: true;
};

/** A stack to be reached. */
export type Destination = {
  /** As people know it. */
  readonly label: string;
  /** Absent: the internet, or an address that no stack of the site owns, or that several do. */
  readonly party?: Party;
  /** The one address to ask for, when it was written or nobody owns any. */
  readonly address?: Address;
  /** Of its addresses only these, when several were written. */
  readonly within?: Ranges;
};

/** The sources of an end: its declared hosts, and its stand-in client where leases are served. */
export function sourcesOf(end: End, network: Network): Source[] {
  const { group, label, addresses } = end;
  const declared = group.begins.map((party) => ({
    ...party,
    label: group.kind === "leg" ? label : deviceOf(party.stack),
    up: [],
    ...(addresses === undefined ? {} : { within: addresses }),
    ...(isInternet(end) ? { isInternet: true as const } : {}),
  }));
  return [...declared, ...group.standIns.flatMap((device) => guestOf(device, network))];
}

function guestOf(device: Id, network: Network): Source[] {
  const stack = directoryOf(network).stackAt.get(device);
  if (stack === undefined) return [];
  const up = network.links.filter((link) => link.onDemand && link.ends.some((end) => deviceOf(end) === device));
  return [
    {
      stack: stack.id,
      interfaces: stack.interfaces.map((leg) => leg.id),
      label: deviceName(device),
      up: up.map((link) => link.id),
    },
  ];
}

/** The targets of an end; one address that was written is asked for itself, of several those that somebody owns. */
export function destinationsOf(end: End, network: Network): Destination[] {
  const { group, label, addresses } = end;
  if (isInternet(end)) return [{ label }];
  if (addresses !== undefined) return writtenDestinations(group, label, addresses, network);
  return group.parties.map((party) => ({ label: group.kind === "leg" ? label : deviceOf(party.stack), party }));
}

function writtenDestinations(group: Group, label: string, within: Ranges, network: Network): Destination[] {
  const [low, high] = within[0] ?? [0n, 0n];
  const [owner, ...others] = group.parties;
  const only = owner === undefined || others.length > 0 ? {} : { party: owner };
  if (low === high) return [{ label, address: keyAddress(low), ...only }];
  if (group.parties.length > 0) return group.parties.map((party) => ({ label: deviceOf(party.stack), party, within }));
  const internet = network.groups.find(({ kind }) => kind === "internet");
  // The first address of a prefix is the prefix itself, and no host's.
  const beyond = intersectRanges(rangeOf(low + 1n, high), internet?.addresses ?? EMPTY_RANGES)[0];
  return beyond === undefined ? [] : [{ label, address: keyAddress(beyond[0]) }];
}

/**
 * The addresses to try, in order; an exchange works when one of them does, as a client with both families falls back. `only`: the
 * family that is asked alone. Default: both.
 */
export function addressesFor(
  evaluation: Evaluation,
  world: World,
  { source, destination }: { readonly source: Source; readonly destination: Destination },
  only?: Family,
): Address[] {
  return addressesOfBoth(evaluation, world, source, destination).filter(
    ({ family }) => only === undefined || family === only,
  );
}

function addressesOfBoth(evaluation: Evaluation, world: World, source: Source, destination: Destination): Address[] {
  const { network, footprint } = evaluation;
  const from = settledStack(world.settled, source.stack);
  if (from === undefined) return [];
  const families = familiesOf(network, from, source);
  if (destination.address !== undefined)
    return source.within === undefined || families.has(destination.address.family) ? [destination.address] : [];
  if (destination.party === undefined) return internetAddresses(network).filter(({ family }) => families.has(family));
  const to = settledStack(world.settled, destination.party.stack);
  if (to === undefined) return [];
  const { within } = destination;
  const candidates = addressesOf(to, destination.party.interfaces).filter(
    (address) =>
      families.has(address.family) && !isLinkLocal(address) && (within === undefined || isAmong(address, within)),
  );
  return ([4, 6] as const).flatMap((family) => {
    const [only, ...others] = candidates.filter((address) => address.family === family);
    if (only === undefined || others.length === 0) return only ?? [];
    footprint.names = true;
    return bestOf([only, ...others], { network, from, to });
  });
}

/** Who asks for what, and where. */
type Asking = {
  readonly source: Source;
  readonly service: Service | undefined;
  readonly world: World;
  readonly network: Network;
};

/** The requests that ask one address for a service, of a family's kind each. */
export function requestsTo(
  address: Address,
  { source, service, world, network }: Asking,
): readonly (ProbeRequest & { readonly service: Concrete })[] {
  const { from, source: own } = beginningBeyond(source, address, { settled: world.settled, network }) ?? {
    from: source.stack,
  };
  // Who has no address that the internet knows is bound to none.
  const bound =
    own ??
    (source.within === undefined && from !== source.stack ? undefined : boundSource(source, world, address.family));
  return concreteServices(service, address.family).map((concrete) => {
    const request = { from, destination: address, service: concrete };
    return bound === undefined ? request : { ...request, source: bound };
  });
}

/** The address that a source is bound to: of those that were written, or of the one leg that was named. */
function boundSource(source: Source, world: World, family: 4 | 6): Address | undefined {
  const { within } = source;
  const stack = settledStack(world.settled, source.stack);
  if (stack === undefined) throw new Error(`no stack ${source.stack}`);
  if (within === undefined && (source.interfaces.length !== 1 || stack.interfaces.length === 1)) return undefined;
  const own = addressesOf(stack, source.interfaces).filter(
    (each) => each.family === family && (within === undefined ? !isLinkLocal(each) : isAmong(each, within)),
  );
  // Beyond an upstream somebody has the address that was written.
  return own[0] ?? firstOf(within, family);
}

function isAmong(address: Address, within: Ranges): boolean {
  return rangesContain(within, addressKey(address));
}

function firstOf(within: Ranges | undefined, family: 4 | 6): Address | undefined {
  const [run] = within ?? [];
  if (run === undefined) return undefined;
  const first = keyAddress(run[0] === run[1] ? run[0] : run[0] + 1n);
  return first.family === family ? first : undefined;
}

/** Families in which a source has an address to send from; beyond an upstream somebody has what was written. */
function familiesOf(
  network: Network,
  stack: SettledStack,
  { interfaces, within, isInternet }: Source,
): ReadonlySet<4 | 6> {
  if (isInternet === true && stack.interfaces.some(({ interface: id }) => isBeyond(id))) return familiesBeyond(network);
  const own = addressesOf(stack, interfaces).filter((each) =>
    within === undefined ? !isLinkLocal(each) : isAmong(each, within),
  );
  const isUpstream = directoryOf(network).stacks.get(stack.stack)?.answersFor === "everywhere";
  const written = own.length === 0 && isUpstream ? (within ?? []).map(([low]) => keyAddress(low)) : [];
  return new Set([...own, ...written].map(({ family }) => family));
}

function addressesOf(stack: SettledStack, interfaces: readonly Id[]): Address[] {
  return stack.interfaces
    .filter((leg) => interfaces.includes(leg.interface))
    .flatMap((leg) => leg.addresses.map(({ family, value }) => ({ family, value })));
}

type Ends = { readonly network: Network; readonly from: SettledStack; readonly to: SettledStack };

function bestOf(candidates: readonly [Address, ...Address[]], ends: Ends): Address {
  return (
    candidates.find((address) => namedFor(address, ends)) ??
    candidates.find((address) => onSharedLink(address, ends.from)) ??
    candidates.find((address) => onGatewayLeg(address, ends.to)) ??
    candidates[0]
  );
}

/** The client's own resolver gives this address for a name. */
function namedFor(address: Address, { network, from }: Ends): boolean {
  const key = addressKey(address);
  return network.services.some(
    (service) =>
      service.kind === "resolve" &&
      service.records.some((record) => record.address === key) &&
      ownsOne(network, service.stack, from.resolvers),
  );
}

function ownsOne(network: Network, stackId: Id, keys: readonly bigint[]): boolean {
  const stack = directoryOf(network).stacks.get(stackId);
  return stack?.interfaces.some((leg) => leg.addresses.some((address) => keys.includes(addressKey(address)))) === true;
}

function onSharedLink(address: Address, from: SettledStack): boolean {
  const width = address.family === 4 ? 32n : 128n;
  return from.interfaces.some((leg) =>
    leg.addresses.some((own) => {
      const host = width - BigInt(own.prefixLength);
      return own.family === address.family && own.value >> host === address.value >> host;
    }),
  );
}

function onGatewayLeg(address: Address, to: SettledStack): boolean {
  const gateways = to.routes.filter((route) => route.length === 0 && route.family === address.family);
  return gateways.some((route) => {
    if (route.action.do !== "forward") return false;
    const legs = new Set(route.action.hops.map((hop) => hop.egress));
    return addressesOf(to, [...legs]).some((own) => own.value === address.value);
  });
}

/** One service as the simulator wants it; several ports are tried one by one, a long run at its ends. */
export type Concrete = {
  /** Protocol number. */
  readonly protocol: number;
  /** Destination port; absent where the protocol has none. */
  readonly port?: number;
  /** Type and code of the request; absent for other protocols. */
  readonly icmp?: { readonly type: number; readonly code: number };
};

/** A range of more ports than this is tried at its two ends only. */
const PORTS_TRIED = 32n;
const ECHO = {
  4: { protocol: 1, icmp: { type: 8, code: 0 } },
  6: { protocol: 58, icmp: { type: 128, code: 0 } },
} as const;

/** The exchanges that stand for a service; no service written means echo. */
function concreteServices(service: Service | undefined, family: 4 | 6): Concrete[] {
  if (service?.protocol === undefined || isEcho(service)) return [ECHO[family]];
  if (service.icmp !== undefined) {
    return [{ protocol: service.protocol, icmp: { type: service.icmp.type, code: service.icmp.code ?? 0 } }];
  }
  if (service.ports === undefined) return [{ protocol: service.protocol }];
  const protocol = service.protocol;
  return service.ports.flatMap(([low, high]) => portsTried(low, high).map((port) => ({ protocol, port })));
}

function portsTried(low: bigint, high: bigint): number[] {
  if (high - low >= PORTS_TRIED) return [Number(low), Number(high)];
  return Array.from({ length: Number(high - low) + 1 }, (_, index) => Number(low) + index);
}
