/**
 * Which line a person would change when a client got no lease, or one of another network: the pool that lends an address
 * which somebody has, what stopped the server, the port that turns the client away, the router that lacks a relay, the bond or
 * the list that keeps the server away, or what put the client where it asked.
 */
import { rangesContain } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import {
  type Binding,
  type DhcpServer,
  deviceOf,
  type Id,
  type Interface,
  type Network,
  type SegmentPoint,
  type Service,
} from "../network/index.ts";
import { covers, ownersOf, type Place } from "./rest.ts";
import {
  deadCablesOf,
  entryOf,
  type Hop,
  heardIn,
  hopsFrom,
  isMistagged,
  joinOf,
  oddEntryOf,
  refusalOf,
  silentBondBetween,
  stopTowards,
  wayTo,
} from "./wires.ts";

type Server = Service & DhcpServer;

/**
 * Lines to change where an interface got no lease, most telling first; empty: what its failure says tells it best. `wanted`
 * is an address that it was to get, where one was named.
 */
export function reasonsWithoutLease(leg: Id, place: Place, wanted?: bigint): readonly Origin[] {
  const { network, settled } = place;
  const client = interfaceOf(leg, network);
  if (client === undefined) throw new Error(`no interface \`${leg}\``);
  const dead = deadCablesOf(deviceOf(leg), network, settled);
  // Who calls for a session is told why by its failure.
  if (dead.length > 0 || client.session !== undefined) return dead;
  const hops = hopsFrom(leg, network, settled);
  const heard = heardIn(hops, leg);
  const near = network.services.filter((service) => isAt(service, heard));
  if (near.length > 0) {
    return [...servedWrongly(near, heard, place), ...lostRelays(near, place), ...unansweredBy(near, client, place)];
  }
  const stopped = (network.stopped ?? []).filter(({ service }) => isAt(service, heard));
  if (stopped.length > 0) return stopped.map(({ by }) => by);
  if (isAtUpstream(client, network)) return [client.origin];
  const refusal = refusalOf(client, network, settled) ?? oddEntryOf(hops, network, settled);
  if (refusal !== undefined) return [refusal];
  const lacking = withoutRelay(heard, place);
  if (lacking.length > 0) return lacking;
  const away = keptAway(client, hops, place);
  return away.length > 0 ? away : unserved(client, hops, place, wanted);
}

/** A server that hears the client has nothing to lend next but an address that somebody near it has, its own for one. */
function servedWrongly(near: readonly Service[], heard: readonly Id[], { network, settled }: Place): readonly Origin[] {
  const legs = settled.stacks.flatMap(({ interfaces }) => interfaces).filter(({ interface: id }) => heard.includes(id));
  const lent = new Set(settled.bindings.flatMap(({ value }) => value ?? []));
  const kept = legs.flatMap(({ addresses }) =>
    addresses.filter(({ family, value }) => family === 4 && !lent.has(value)),
  );
  const relayed = near.some(({ kind }) => kind === "dhcp-relay");
  const servers = network.services.filter((service): service is Server => service.kind === "dhcp-server");
  return servers
    .filter((server) => near.includes(server) || (relayed && kept.some(({ value }) => isFor(server, value))))
    .filter((server) =>
      lendsOneOf(
        kept.map(({ value }) => value),
        server,
        lent,
      ),
    )
    .map(({ origin }) => origin);
}

function lendsOneOf(
  kept: readonly bigint[],
  { pool, order, reservations }: Server,
  lent: ReadonlySet<bigint>,
): boolean {
  const inside = kept.filter((value) => rangesContain(pool, value));
  if (order === "hashed") return inside.length > 0;
  const taken = new Set([...lent, ...reservations.map(({ value }) => value)]);
  return inside.includes(nextOf(pool, order, taken));
}

/** A server hears the client, and is not heard by it. */
function unansweredBy(near: readonly Service[], client: Interface, { network, settled }: Place): readonly Origin[] {
  return near.flatMap((service) => {
    const on = "interface" in service ? service.interface : undefined;
    const hops = on === undefined ? [] : hopsFrom(on, network, settled);
    if (on === undefined || heardIn(hops, on).includes(client.id)) return [];
    return joinOf(hops, network, settled) ?? stopTowards(on, client.id, network, settled) ?? [];
  });
}

/** What a provider does is given: of a cable to it, the end here is the one to change. */
function isAtUpstream({ on }: Interface, { links, stacks }: Network): boolean {
  const far = links.flatMap(({ ends }) => (ends.includes(on) ? ends.filter((end) => end !== on) : []));
  return stacks.some(
    ({ device, answersFor }) => answersFor === "everywhere" && far.some((end) => deviceOf(end) === device),
  );
}

/** Serves or relays for clients that one of these interfaces hears. */
function isAt(service: Service, interfaces: readonly Id[]): boolean {
  const isForLeases = service.kind === "dhcp-server" || service.kind === "dhcp-relay";
  return isForLeases && service.interface !== undefined && interfaces.includes(service.interface);
}

function nextOf(pool: DhcpServer["pool"], order: "lowest-first" | "highest-first", taken: ReadonlySet<bigint>): bigint {
  const isLowest = order === "lowest-first";
  for (const [low, high] of isLowest ? pool : pool.toReversed()) {
    const step = isLowest ? 1n : -1n;
    for (let value = isLowest ? low : high; value >= low && value <= high; value += step) {
      if (!taken.has(value)) return value;
    }
  }
  return -1n;
}

/** Routers that hear the client in a network which a server elsewhere has a pool for, and that carry nothing there. */
function withoutRelay(heard: readonly Id[], { network, settled }: Place): readonly Origin[] {
  const servers = network.services.filter((service): service is Server => service.kind === "dhcp-server");
  const legs = settled.stacks.flatMap(({ interfaces }) => interfaces).filter(({ interface: id }) => heard.includes(id));
  return legs.flatMap(({ interface: id, addresses }) => {
    const isServed = addresses.some((address) => servers.some((server) => isFor(server, address.value)));
    const leg = isServed && routes(id, network) ? interfaceOf(id, network) : undefined;
    return leg === undefined
      ? []
      : [{ by: "absent" as const, wanted: `a DHCP relay on \`${id}\``, span: leg.origin.span }];
  });
}

/** A server for relayed clients of the network that an IPv4 address lies in. */
function isFor({ interface: on, subnet: { value, length } }: Server, address: bigint): boolean {
  const host = BigInt(32 - length);
  return on === undefined && address >> host === value >> host;
}

function routes(leg: Id, { stacks }: Network): boolean {
  const stack = stacks.find(({ interfaces }) => interfaces.some(({ id }) => id === leg));
  return stack?.onward.some(({ op }) => op === "transmit") === true;
}

/** Relays near the client to an address where no server is; where one was stopped there, what stopped it. */
function lostRelays(near: readonly Service[], { network, settled }: Place): readonly Origin[] {
  const { services, stopped = [] } = network;
  const servers = new Set(services.filter(({ kind }) => kind === "dhcp-server").map(({ stack }) => stack));
  return near.flatMap((service) => {
    if (service.kind !== "dhcp-relay") return [];
    const asked = service.servers.flatMap((value) => ownersOf({ family: 4, value }, settled).map(({ stack }) => stack));
    if (asked.some((stack) => servers.has(stack))) return [];
    const off = stopped.filter((each) => each.service.kind === "dhcp-server" && asked.includes(each.service.stack));
    return off.length > 0 ? off.map(({ by }) => by) : [service.origin];
  });
}

/**
 * What keeps away the server of the client's network, a bond that carries nothing or a list: the network that others whom it
 * reaches are in, else the one of the VLAN that it is put into.
 */
function keptAway(client: Interface, hops: readonly Hop[], { network, settled }: Place): readonly Origin[] {
  const heard = heardIn(hops, client.id);
  const here = new Set([client.id, ...heard].flatMap((id) => interfaceOf(id, network)?.network ?? []));
  if (here.size === 0) for (const id of networksOf(hops, network)) here.add(id);
  const servers = network.services.flatMap((service) => {
    const on = service.kind === "dhcp-server" || service.kind === "dhcp-relay" ? service.interface : undefined;
    return on === undefined ? [] : (interfaceOf(on, network) ?? []);
  });
  const away = servers.filter(({ network: id }) => id !== undefined && here.has(id));
  return away.flatMap((server) => [
    ...(isMistagged(server, network) ? [server.origin] : []),
    ...silentBondBetween(client, server, network, settled),
    ...[stopTowards(client.id, server.id, network, settled) ?? []].flat(),
  ]);
}

/** Networks of the VLAN that frames are first put into. */
function networksOf(hops: readonly Hop[], { groups }: Network): readonly Id[] {
  const entry = hops.find(({ after }) => after !== 0);
  const end = entry?.crossing.to;
  if (entry === undefined || end?.kind !== "bridge") return [];
  const isThere = ({ at, vlan }: SegmentPoint) => at === end.bridge && vlan === entry.after;
  return groups.flatMap(({ id, kind, segments }) => (kind === "network" && segments.some(isThere) ? [id] : []));
}

/**
 * The client hears a router, and nobody serves that network: the client was put into the wrong one, or a server is missing.
 * It is the wrong one where it was to get another address; where nothing was named, if no other client waits there.
 */
function unserved(
  client: Interface,
  hops: readonly Hop[],
  { network, settled }: Place,
  wanted: bigint | undefined,
): readonly Origin[] {
  const heard = heardIn(hops, client.id);
  const routers = settled.stacks
    .flatMap(({ interfaces }) => interfaces)
    .filter(({ interface: id, addresses }) => heard.includes(id) && addresses.length > 0 && routes(id, network));
  if (routers.length === 0) return [];
  const isHome =
    wanted === undefined
      ? heard.some(
          (id) => interfaceOf(id, network)?.awaits.some(({ from }) => from === "lease") && !routes(id, network),
        )
      : routers.some(({ addresses }) => addresses.some((address) => covers(address, { family: 4, value: wanted })));
  if (!isHome) return [entryOf(hops, network, settled) ?? []].flat();
  return routers.flatMap(({ interface: id }) => {
    const span = interfaceOf(id, network)?.origin.span;
    return span === undefined ? [] : [{ by: "absent", wanted: `a DHCP server or relay on \`${id}\``, span } as const];
  });
}

/** The line that put a client into the network of the server that answered it, where it was to be in another one of the site. */
export function strayReason(
  { interface: client, server: id }: Binding,
  wanted: bigint,
  { network, settled }: Place,
): Origin | undefined {
  const server = network.services.find((service): service is Server => service.id === id);
  if (server?.interface === undefined) return undefined;
  const legs = settled.stacks.flatMap(({ interfaces }) => interfaces);
  const covering = legs.filter(({ addresses }) =>
    addresses.some((address) => covers(address, { family: 4, value: wanted })),
  );
  const isOther = covering.length > 0 && covering.every(({ interface: leg }) => leg !== server.interface);
  if (!isOther) return undefined;
  const way = wayTo(hopsFrom(client, network, settled), server.interface);
  const home = covering.map(({ interface: leg }) => interfaceOf(leg, network)?.network);
  return joinOf(way, network, settled) ?? otherRadio(client, way, home, network) ?? entryOf(way, network, settled);
}

/** The word by which a client joined one radio network, where another one of its access point leads to where it was to be. */
function otherRadio(
  client: Id,
  way: readonly Hop[],
  home: readonly (Id | undefined)[],
  { bridges, groups, links, ports, stacks }: Network,
): Origin | undefined {
  const on = stacks.flatMap(({ interfaces }) => interfaces).find(({ id }) => id === client)?.on;
  const joined = links.find(({ kind, ends }) => kind === "radio" && ends.some((end) => end === on));
  const end = way.find(({ after }) => after !== 0)?.crossing.to;
  if (joined === undefined || end?.kind !== "bridge") return undefined;
  const points = groups
    .filter(({ id, kind }) => kind === "network" && home.includes(id))
    .flatMap((each) => each.segments);
  const wanted = points.flatMap(({ at, vlan }) => (at === end.bridge && vlan !== undefined ? [vlan] : []));
  const radios = new Set(ports.flatMap(({ id, rateMbps }) => (rateMbps === 0 ? [id] : [])));
  const others = bridges.find(({ id }) => id === end.bridge)?.ports.filter((port) => radios.has(port.on));
  const isOffered = others?.some(({ untagged: { vlan } }) => vlan !== "refused" && wanted.includes(vlan));
  return isOffered ? joined.origin : undefined;
}

function interfaceOf(id: Id, { stacks }: Network): Interface | undefined {
  return stacks.flatMap(({ interfaces }) => interfaces).find((leg) => leg.id === id);
}
