/**
 * A site at rest cut into units of change: what a stack is, and what each place of the wiring is. What an engine can
 * read of the description lies in a unit or in the common ground, but for what is compared beside them (`changes.ts`): lists of rules,
 * by what came to them (`filters.ts`), translations, groups, and names. What servers lend is in neither: it counts by the leases that come of it.
 */
import {
  type Choice,
  deviceOf,
  type Id,
  type Network,
  type Service,
  type Settled,
  type Stack,
  type Table,
} from "../network/index.ts";
import { directoryOf, grouped } from "./directory.ts";
import { settledStack } from "./holders.ts";
import type { World } from "./worlds.ts";

/** Plain values by id. */
export type Units = ReadonlyMap<Id, unknown>;

/** A world as far as it is cut. */
export type Resting = Pick<World, "settled"> & Partial<Pick<World, "failures">>;

/** The units of a site in all its worlds. */
export function unitsOf(
  network: Network,
  worlds: readonly Resting[],
): { readonly stacks: Units; readonly listeners: Units; readonly wiring: Units; readonly leases: Units } {
  const rests = worlds.map(({ settled }) => restOf(settled));
  return {
    stacks: stackUnits(network, rests),
    listeners: listenerUnits(network),
    wiring: wiringUnits(network, rests),
    leases: leaseUnits(worlds),
  };
}

/** What each interface was handed in each world, or why nothing. */
function leaseUnits(worlds: readonly Resting[]): Units {
  const units = new Map<Id, unknown[]>();
  for (const [number, { settled, failures = [] }] of worlds.entries()) {
    for (const each of [...settled.bindings, ...failures]) {
      const beside = units.get(each.interface);
      if (beside === undefined) units.set(each.interface, [[number, each]]);
      else beside.push([number, each]);
    }
  }
  return units;
}

/** A site at rest, its parts at hand. */
type Rest = {
  readonly settled: Settled;
  readonly down: ReadonlySet<Id>;
  readonly choices: ReadonlyMap<Id, readonly Choice[]>;
};

function restOf(settled: Settled): Rest {
  return { settled, down: new Set(settled.down), choices: byDevice(settled.choices) };
}

function byDevice<Thing extends { readonly id: Id }>(things: readonly Thing[]): ReadonlyMap<Id, readonly Thing[]> {
  return grouped(things.map((thing) => [deviceOf(thing.id), thing]));
}

/** All of a device above the link layer but its lists of rules, of which only what came to them counts (`filters.ts`). */
function stackUnits(network: Network, rests: readonly Rest[]): Units {
  const { devices } = directoryOf(network);
  const tables = byDevice(network.tables);
  return new Map(
    network.stacks.map((stack) => {
      const atRest = rests.map(({ settled, choices }) => [settledStack(settled, stack.id), choices.get(stack.device)]);
      const unit = { stack, device: devices.get(stack.device), tables: tables.get(stack.device)?.map(frameOf), atRest };
      return [stack.id, unit] as const;
    }),
  );
}

/** Routes are one list; where nothing is ever translated nobody behind a router is asked. */
function frameOf(table: Table): unknown {
  return table.kind === "routes" ? table : [table.id, table.kind === "translate" && table.rules.length > 0];
}

/**
 * What services are to packets: what they listen for. What a server lends, and what it tells its clients, is in their leases and in
 * what they are at rest; whom resolvers name counts where that was asked (`common-ground.ts`).
 */
function listenerUnits(network: Network): Units {
  const { servicesOf } = directoryOf(network);
  return new Map([...servicesOf].map(([stack, services]) => [stack, services.map(listeningAs)] as const));
}

function listeningAs(service: Service): unknown {
  const { id, kind, origin } = service;
  if (kind === "listen") return service;
  return kind === "resolve" ? [id, origin, service.listen] : [id, kind, origin];
}

function wiringUnits(network: Network, rests: readonly Rest[]): Units {
  const isDown = (id: Id): readonly boolean[] => rests.map(({ down }) => down.has(id));
  const openAt = (id: Id): unknown => rests.map(({ choices }) => choices.get(deviceOf(id)));
  const bonds = rests.map(({ settled }) => new Map(settled.bonds.map((bond) => [bond.bond, bond])));
  const units = new Map<Id, unknown>();
  for (const port of network.ports) units.set(port.id, [port, isDown(port.id), openAt(port.id)]);
  for (const link of network.links) units.set(link.id, [link, isDown(link.id)]);
  for (const bond of network.bonds)
    units.set(bond.id, [bond, isDown(bond.id), bonds.map((each) => each.get(bond.id)), openAt(bond.id)]);
  for (const bridge of network.bridges) {
    // Digests are of all ports together.
    const { ports, digest: _, ...frame } = bridge;
    units.set(bridge.id, [frame, openAt(bridge.id), rests.map(stormsAt(bridge.id))]);
    for (const port of ports) units.set(port.id, [port, rests.map(blockAt(port.id))]);
  }
  for (const stack of network.stacks) {
    const station = [stationOf(stack, rests), openAt(stack.id)];
    for (const leg of stack.interfaces) units.set(leg.id, station);
  }
  return units;
}

function stormsAt(id: Id): (rest: Rest) => unknown {
  return ({ settled: { storms } }) => storms.filter(({ domains }) => domains.some(({ bridge }) => bridge === id));
}

function blockAt(id: Id): (rest: Rest) => unknown {
  return ({ settled: { blocked } }) => blocked.find(({ port }) => port === id);
}

/** What a stack is to others on its links: who it is, for which addresses it answers, and whether it sends packets on. */
function stationOf({ id, answersFor, interfaces, onward }: Stack, rests: readonly Rest[]): unknown {
  const atRest = rests.map(({ settled }) => settledStack(settled, id));
  return {
    answersFor,
    interfaces,
    onward,
    atRest: atRest.map((rest) => rest?.interfaces),
    // An upstream answers for whatever it has no route for.
    routes: answersFor === "everywhere" ? atRest.map((rest) => rest?.routes) : [],
  };
}
