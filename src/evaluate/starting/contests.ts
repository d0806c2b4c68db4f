/**
 * Contests: what of a site depends on who was there first. Links, trees, tunnels and sessions come out the same however it was
 * started; only four things remember: a bond whose members lead to several devices keeps those that carried first, a guard keeps
 * a port shut, a client keeps the server that lent first, and a pool lends its addresses as they are asked for.
 *
 * What may reach whom is taken from the site with no port blocked and every member carrying, so that a server which is heard
 * only while something is missing counts, too. A pool counts where it is short, or where something tells its addresses apart.
 */
import {
  addressKey,
  type Ranges,
  rangesOverlap,
  rangesSize,
  rangesWithin,
  single,
  subtractRanges,
} from "../../address/index.ts";
import { deviceOf, type Id, type Network, type Service, type Settled } from "../../network/index.ts";
import { domainMapOf, endId, plantOf, reachOf } from "../../settle/index.ts";
import { directoryOf } from "../directory.ts";
import type { World } from "../worlds.ts";

/** Something that whoever starts first decides. */
export type Contest = {
  /** Devices whose order may decide it; empty: any outcome is one at rest, too. */
  readonly devices: readonly Id[];
  /** What it is about: a bond, a bridge port, interfaces of clients. */
  readonly about: readonly Id[];
  /** Keys of addresses that change hands. */
  readonly addresses: Ranges;
  /** What is decided, in a few words. */
  readonly text: string;
};

/** All contests of a site; `told`: sets of addresses that somebody tells apart besides the plan. */
export function contestsOf(network: Network, worlds: readonly World[], told: readonly Ranges[]): readonly Contest[] {
  const clients = worlds.length === 0 ? [] : clientsOf(network, worlds);
  return [
    ...bondContests(network),
    ...guardContests(network),
    ...clients.flatMap((client) => serverContests(client, network)),
    ...poolContests(clients, network, [...told, ...setsIn(network)]),
  ];
}

// -- the link layer ------------------------------------------------------------------------------------------------

function bondContests(network: Network): readonly Contest[] {
  const { linksAt } = plantOf(network);
  return network.bonds.flatMap((bond): Contest[] => {
    if (bond.mode.kind === "static") return [];
    const far = bond.members.flatMap((member) =>
      (linksAt.get(member) ?? []).flatMap(({ ends }) => ends.filter((end) => end !== member).map(deviceOf)),
    );
    const devices = [...new Set(far)];
    if (devices.length < 2) return [];
    const text = `which of ${devices.join(" and ")} carries for ${bond.id}`;
    return [{ devices: [bond.device, ...devices], about: [bond.id], addresses: [], text }];
  });
}

/** A guard shuts its port when a frame of the tree comes, and whether one comes may depend on who spoke first. */
function guardContests(network: Network): readonly Contest[] {
  const { linksAt, bridgeAt } = { ...plantOf(network), bridgeAt: new Set(network.bridges.map(({ device }) => device)) };
  const trees = network.bridges.flatMap(({ device, tree }) => (tree === undefined ? [] : [device]));
  return network.bridges.flatMap((bridge) =>
    (bridge.tree?.ports ?? []).flatMap((port): Contest[] => {
      const on = bridge.ports.find(({ id }) => id === port.port)?.on ?? "";
      const sockets = network.bonds.find(({ id }) => id === on)?.members ?? [on];
      const isBridged = sockets.some((socket) =>
        (linksAt.get(socket) ?? []).some(({ ends }) =>
          ends.some((end) => end !== socket && bridgeAt.has(deviceOf(end))),
        ),
      );
      if (!port.guard || !isBridged) return [];
      return [
        {
          devices: [...new Set([bridge.device, ...trees])],
          about: [port.port],
          addresses: [],
          text: `whether the guard shuts ${on}`,
        },
      ];
    }),
  );
}

// -- leases --------------------------------------------------------------------------------------------------------

type Lender = Extract<Service, { readonly kind: "dhcp-server" | "advertise" }>;

/** A leg that waits for addresses, with whoever might give it some. */
type Client = {
  readonly leg: Id;
  readonly hardware: bigint;
  readonly lenders: readonly Lender[];
  /** Relays on the way. */
  readonly between: readonly Id[];
  /** Some are heard only while parts of the site are missing. */
  readonly isHidden: boolean;
};

function clientsOf(network: Network, worlds: readonly World[]): readonly Client[] {
  const { devices } = directoryOf(network);
  const waiting = network.stacks.flatMap((stack) =>
    devices.get(stack.device)?.standIn === true
      ? []
      : stack.interfaces.flatMap((leg) => (leg.awaits.length === 0 ? [] : [{ stack: stack.id, leg }])),
  );
  return waiting.map(({ stack, leg }): Client => {
    const heard = worlds.map(({ settled }) => heardBy(stack, leg.id, network, relaxed(network, settled)));
    const now = worlds.map(({ settled }) => heardBy(stack, leg.id, network, settled));
    const all = [...new Set(heard.flatMap((each) => each.lenders))];
    const between = [...new Set(heard.flatMap((each) => each.between))];
    const atRest = new Set(now.flatMap((each) => each.lenders));
    return {
      leg: leg.id,
      hardware: leg.hardware,
      lenders: all,
      between,
      isHidden: all.some((each) => !atRest.has(each)),
    };
  });
}

/** The site with no port blocked and every member that has a link carrying. */
function relaxed(network: Network, settled: Settled): Settled {
  const down = new Set(settled.down);
  const bonds = network.bonds.map(({ id, members, origin }) => {
    const live = members.filter((member) => !down.has(member));
    return { bond: id, sends: live, takes: live, origin };
  });
  return {
    ...settled,
    down: settled.down.filter((id) => !network.bonds.some((bond) => bond.id === id)),
    blocked: [],
    bonds,
  };
}

type Heard = { readonly lenders: readonly Lender[]; readonly between: readonly Id[] };

function heardBy(stack: Id, leg: Id, network: Network, settled: Settled): Heard {
  const map = domainMapOf(network, settled);
  const start = { at: { kind: "interface", stack, interface: leg }, domain: 0 } as const;
  const reached = new Set(reachOf(map, start).points.map(({ at }) => endId(at)));
  const lenders: Lender[] = [];
  const between: Id[] = [];
  for (const service of network.services) {
    if (service.kind === "dhcp-relay" && reached.has(service.interface)) {
      between.push(deviceOf(service.stack));
      lenders.push(...relayedTo(service.servers, network, settled));
    }
    if (service.kind !== "dhcp-server" && service.kind !== "advertise") continue;
    if (service.interface !== undefined && reached.has(service.interface)) lenders.push(service);
  }
  return { lenders, between };
}

function relayedTo(servers: readonly bigint[], network: Network, { stacks }: Settled): readonly Lender[] {
  const owners = new Set(
    stacks.flatMap(({ stack, interfaces }) =>
      interfaces.some(({ addresses }) => addresses.some(({ family, value }) => family === 4 && servers.includes(value)))
        ? [stack]
        : [],
    ),
  );
  return network.services.filter(
    (service): service is Lender & { readonly kind: "dhcp-server" } =>
      service.kind === "dhcp-server" && owners.has(service.stack),
  );
}

/**
 * Several devices that give one client addresses. Which of several servers lends is open at rest already, so that order adds
 * nothing, but where one is heard only while something is missing: which parts those are nobody knows beforehand. Of several
 * advertisers all are heard, and what the first says comes first.
 */
function serverContests(client: Client, network: Network): readonly Contest[] {
  return (["dhcp-server", "advertise"] as const).flatMap((kind): Contest[] => {
    const lenders = client.lenders.filter((each) => each.kind === kind);
    const devices = [...new Set(lenders.map(({ stack }) => deviceOf(stack)))];
    if (devices.length < 2) return [];
    const text = `which of ${devices.join(" and ")} gives ${client.leg} its address`;
    const about = { about: [client.leg], addresses: [], text };
    if (!client.isHidden) return [{ ...about, devices: kind === "advertise" ? devices : [] }];
    const hiding = network.bridges.map(({ device }) => device);
    return [{ ...about, devices: [...new Set([deviceOf(client.leg), ...devices, ...client.between, ...hiding])] }];
  });
}

function poolContests(clients: readonly Client[], network: Network, sets: readonly Ranges[]): readonly Contest[] {
  return network.services.flatMap((server): Contest[] => {
    if (server.kind !== "dhcp-server") return [];
    const kept = new Set(server.reservations.map(({ hardware }) => hardware));
    const asking = clients.filter(({ lenders, hardware }) => lenders.includes(server) && !kept.has(hardware));
    if (asking.length < 2) return [];
    const reserved = server.reservations.reduce<Ranges>(
      (left, { value }) => subtractRanges(left, single(value)),
      server.pool,
    );
    const pool = keysOf(reserved);
    const isShort = rangesSize(pool) < BigInt(asking.length);
    const isToldApart = sets.some((set) => splits(set, pool));
    if (!isShort && !isToldApart) return [];
    const legs = asking.map(({ leg }) => leg);
    const devices = [...new Set(legs.map(deviceOf))];
    if (devices.length < 2) return [];
    const text = isShort
      ? `who of ${devices.join(", ")} gets one of ${rangesSize(pool)} addresses`
      : `who of ${devices.join(", ")} gets which address`;
    return [{ devices, about: legs, addresses: pool, text }];
  });
}

function keysOf(pool: Ranges): Ranges {
  return pool.map(([low, high]) => [keyOf(low), keyOf(high)] as const);
}

function keyOf(value: bigint): bigint {
  return addressKey({ family: 4, value });
}

/** Whether a set holds some addresses of a pool and not the others. */
function splits(set: Ranges, pool: Ranges): boolean {
  return rangesOverlap(set, pool) && !rangesWithin(set, pool);
}

/** Every set of addresses that the plan tells from others. */
function setsIn({ tables, stacks, services }: Network): readonly Ranges[] {
  const matched = tables.flatMap((table): readonly Ranges[] =>
    table.kind === "routes"
      ? []
      : table.rules.flatMap(({ when, action }) => [...matchedIn(when), ...targetsOf(action)]),
  );
  const routed = tables.flatMap((table) => (table.kind === "routes" ? table.routes : []));
  const prefixes = routed.map(({ family, prefix, length }): Ranges => {
    const size = 1n << BigInt((family === 4 ? 32 : 128) - length);
    const low = addressKey({ family, value: prefix });
    return [[low, low + size - 1n]];
  });
  const owned = stacks.flatMap(({ interfaces }) =>
    interfaces.flatMap(({ addresses }) => addresses.map((address) => single(addressKey(address)))),
  );
  const served = services.flatMap((service): readonly Ranges[] => {
    if (service.kind === "listen") return matchedIn(service.when);
    return service.kind === "resolve" ? service.records.map(({ address }) => single(address)) : [];
  });
  return [...matched, ...prefixes, ...owned, ...served];
}

type Matches = Extract<Service, { readonly kind: "listen" }>["when"];

function matchedIn(when: Matches): readonly Ranges[] {
  return when.flatMap((match) =>
    match.flatMap((condition) =>
      condition.field === "source" || condition.field === "destination" ? [condition.within] : [],
    ),
  );
}

function targetsOf(action: { readonly do: string; readonly to?: Ranges | string }): readonly Ranges[] {
  return action.to === undefined || typeof action.to === "string" ? [] : [action.to];
}
