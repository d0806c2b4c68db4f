/**
 * Which exchanges an assertion of `connects` or `arrives` stands for: every source with every target and service.
 *
 * Which address of a target with several legs is used (semantics, section 1): the one that its name gives the client,
 * else the one on a link they share, else the one on the leg with the gateway, else its first.
 */
import { type Address, addressKey, isLinkLocal, keyAddress, type Service } from "../address/index.ts";
import type { World } from "../evaluate/index.ts";
import { deviceOf, type Group, type Id, type Network, type Party, type SettledStack } from "../network/index.ts";
import type { End } from "./ends.ts";

/** A stack that begins, with the legs it may use. */
export type Source = Party & {
  /** As people know it. */
  readonly label: string;
  /** On-demand links that must be up for it to exist. */
  readonly up: readonly Id[];
};

/** A stack to be reached. */
export type Destination = {
  /** As people know it. */
  readonly label: string;
  /** Absent: the internet, or an address that no stack of the site owns. */
  readonly party?: Party;
  /** The addresses written, when addresses were written. */
  readonly addresses?: readonly Address[];
};

/** An address that stands for the internet in exchanges: TEST-NET-2 and the documentation prefix (RFC 5737, RFC 3849). */
const INTERNET_4: Address = { family: 4, value: 0xc6_33_64_01n };
const INTERNET_6: Address = { family: 6, value: 0x2001_0db8_0000_0000_0000_0000_0000_0001n };

/** The sources of a group: its declared hosts, and its stand-in client where leases are served. */
export function sourcesOf(group: Group, network: Network): Source[] {
  const declared = group.begins.map((party) => ({ ...party, label: deviceOf(party.stack), up: [] }));
  const guests = group.standIns.flatMap((device) => {
    const stack = network.stacks.find((candidate) => candidate.device === device);
    if (stack === undefined) return [];
    const up = network.links.filter((link) => link.onDemand && link.ends.some((end) => deviceOf(end) === device));
    const label = `a new client in ${device.replace("~", "")}`;
    return [
      { stack: stack.id, interfaces: stack.interfaces.map((leg) => leg.id), label, up: up.map((link) => link.id) },
    ];
  });
  return [...declared, ...guests];
}

/** The targets of an end; addresses that were written are asked for themselves, the first of a run. */
export function destinationsOf({ group, label, sources }: End): Destination[] {
  if (group.kind === "internet" || group.kind === "internet-public") return [{ label: group.id }];
  const first = sources?.[0]?.[0];
  if (first !== undefined) return [{ label, addresses: [keyAddress(first)] }];
  return group.parties.map((party) => ({ label: deviceOf(party.stack), party }));
}

/** The addresses to try, in order; an exchange works when one of them does, as a client with both families falls back. */
export function addressesFor(network: Network, world: World, source: Source, destination: Destination): Address[] {
  const from = world.settled.stacks.find((stack) => stack.stack === source.stack);
  if (from === undefined) return [];
  if (destination.addresses !== undefined) return [...destination.addresses];
  const families = familiesOf(from, source.interfaces);
  if (destination.party === undefined) {
    const [first] = [INTERNET_4, INTERNET_6].filter((address) => families.has(address.family));
    return first === undefined ? [] : [first];
  }
  const to = world.settled.stacks.find((stack) => stack.stack === destination.party?.stack);
  if (to === undefined) return [];
  const candidates = addressesOf(to, destination.party.interfaces).filter(
    (address) => families.has(address.family) && !isLinkLocal(address),
  );
  return ([4, 6] as const).flatMap((family) => {
    const best = bestOf(
      candidates.filter((address) => address.family === family),
      { network, from, to },
    );
    return best === undefined ? [] : [best];
  });
}

function familiesOf(stack: SettledStack, interfaces: readonly Id[]): ReadonlySet<4 | 6> {
  return new Set(
    addressesOf(stack, interfaces)
      .filter((address) => !isLinkLocal(address))
      .map((address) => address.family),
  );
}

function addressesOf(stack: SettledStack, interfaces: readonly Id[]): Address[] {
  return stack.interfaces
    .filter((leg) => interfaces.includes(leg.interface))
    .flatMap((leg) => leg.addresses.map(({ family, value }) => ({ family, value })));
}

type Ends = { readonly network: Network; readonly from: SettledStack; readonly to: SettledStack };

function bestOf(candidates: readonly Address[], ends: Ends): Address | undefined {
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
  const stack = network.stacks.find((candidate) => candidate.id === stackId);
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
export function concreteServices(service: Service | undefined, family: 4 | 6): Concrete[] {
  if (service?.protocol === undefined || isEcho(service)) return [ECHO[family]];
  if (service.icmp !== undefined) {
    return [{ protocol: service.protocol, icmp: { type: service.icmp.type, code: service.icmp.code ?? 0 } }];
  }
  if (service.ports === undefined) return [{ protocol: service.protocol }];
  const protocol = service.protocol;
  return service.ports.flatMap(([low, high]) => portsTried(low, high).map((port) => ({ protocol, port })));
}

function isEcho(service: Service): boolean {
  if (service.protocol !== 1 && service.protocol !== 58) return false;
  return service.icmp === undefined || service.icmp.type === (service.protocol === 1 ? 8 : 128);
}

function portsTried(low: bigint, high: bigint): number[] {
  if (high - low >= PORTS_TRIED) return [Number(low), Number(high)];
  return Array.from({ length: Number(high - low) + 1 }, (_, index) => Number(low) + index);
}
