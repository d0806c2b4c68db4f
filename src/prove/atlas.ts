/**
 * The prover's index over a network at rest: everything by id, and what hangs together at hand. Private, derived, built
 * once for each settled site.
 */

import { addressKey, type Ranges, ranges, subtractRanges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import {
  type Bond,
  type Bridge,
  type BridgePort,
  type FilterTable,
  type Id,
  type Interface,
  internetAddresses,
  type Link,
  type Network,
  type Port,
  type Route,
  type RouteTable,
  type Settled,
  type SettledBond,
  type SettledInterface,
  type SettledStack,
  type Stack,
  type TranslateTable,
} from "../network/index.ts";
import { isRouter } from "../settle/index.ts";
import { listOf } from "./by-key.ts";
import { stretchesOf, waysOf } from "./routes.ts";
import { RuleList } from "./rules.ts";
import { numbersWhere, type Stretch } from "./stretches.ts";

/** A bridge port with its bridge. */
export type BridgePlace = {
  /** The bridge. */
  readonly bridge: Bridge;
  /** The port of it. */
  readonly port: BridgePort;
};

/** An interface at rest. */
export type Leg = {
  /** As described. */
  readonly interface: Interface;
  /** What it became. */
  readonly settled: SettledInterface;
  /** The stack it belongs to. */
  readonly node: Node;
  /** Keys of its own addresses, anycast ones included. */
  readonly own: Ranges;
};

/** A stack at rest. */
export type Node = {
  /** As described. */
  readonly stack: Stack;
  /** In the stack's order. */
  readonly legs: Leg[];
  /** Keys of all its addresses, anycast ones included. */
  readonly own: Ranges;
  /** All of them, as they are at rest. */
  readonly routes: readonly Route[];
  /** Which route leads each address on. */
  readonly stretches: readonly Stretch<Route>[];
  /** Where each address leads: one route stands for all with the same next hop. */
  readonly ways: readonly Stretch<Route>[];
  /** Those that tell where a source belongs. */
  readonly routesBack: readonly Route[];
  /** Where each source belongs. */
  readonly waysBack: readonly Stretch<Route>[];
  /** What a miss of the routes does. */
  readonly otherwise: RouteTable["otherwise"];
  /** Sends packets of others on. */
  readonly forwards: boolean;
  /** For `everywhere`: addresses it answers for because no route leads on from it. */
  readonly beyond: Ranges;
};

/** A table of translations with its slices. */
export type TranslateList = {
  /** As described. */
  readonly table: TranslateTable;
  /** Its rules, ready to be asked. */
  readonly rules: RuleList<TranslateTable["rules"][number]>;
};

/** A table of filter rules with its slices. */
export type FilterList = {
  /** As described. */
  readonly table: FilterTable;
  /** Its rules, ready to be asked. */
  readonly rules: RuleList<FilterTable["rules"][number]>;
};

/** Everything at hand. */
export class Atlas {
  readonly network: Network;
  readonly settled: Settled;
  readonly ports: ReadonlyMap<Id, Port>;
  readonly bonds: ReadonlyMap<Id, { readonly bond: Bond; readonly settled: SettledBond }>;
  /** The bond whose member a port is. */
  readonly bondOf: ReadonlyMap<Id, Id>;
  /** Links by each of their ends. */
  readonly linksAt: ReadonlyMap<Id, readonly Link[]>;
  /** Keys of the addresses that stand for the internet, IPv4 first. */
  readonly internet: readonly bigint[];
  /** Ports, links and bonds without carrier. */
  readonly down: ReadonlySet<Id>;
  /** Bridge ports by attachment. */
  readonly bridgePortAt: ReadonlyMap<Id, BridgePlace>;
  /** Bridges that learn where stations are. */
  readonly learning: ReadonlySet<Id>;
  /** Ports that the spanning tree blocks, by bridge. */
  readonly blocks: ReadonlyMap<Id, ReadonlyMap<Id, Origin>>;
  /** Interfaces by attachment. */
  readonly legsOn: ReadonlyMap<Id, readonly Leg[]>;
  readonly legs: ReadonlyMap<Id, Leg>;
  /** Keys of all addresses that stations have. */
  readonly owned: Ranges;
  readonly nodes: ReadonlyMap<Id, Node>;
  readonly filters: ReadonlyMap<Id, FilterList>;
  readonly translations: ReadonlyMap<Id, TranslateList>;

  constructor(network: Network, settled: Settled) {
    this.network = network;
    this.settled = settled;
    this.ports = byId(network.ports);
    this.bonds = bondsOf(network, settled);
    this.bondOf = new Map(network.bonds.flatMap((bond) => bond.members.map((member) => [member, bond.id] as const)));
    this.linksAt = grouped(network.links.flatMap((link) => link.ends.map((end) => [end, link] as const)));
    this.internet = internetAddresses(network).map(addressKey);
    this.down = new Set(settled.down);
    this.bridgePortAt = new Map(
      network.bridges.flatMap((bridge) => bridge.ports.map((port) => [port.on, { bridge, port }] as const)),
    );
    this.learning = new Set(network.bridges.filter(learns).map(({ id }) => id));
    this.blocks = blocksOf(settled);
    this.nodes = nodesOf(network, settled);
    const legs = [...this.nodes.values()].flatMap((node) => node.legs);
    this.owned = keysOf(legs.flatMap((leg) => leg.settled.addresses));
    this.legs = new Map(legs.map((leg) => [leg.interface.id, leg]));
    this.legsOn = grouped(legs.map((leg) => [leg.interface.on, leg] as const));
    this.filters = new Map(filtersOf(network));
    this.translations = new Map(translationsOf(network));
  }
}

function learns({ steps }: Bridge): boolean {
  return steps.some(({ op }) => op === "learn");
}

function byId<Thing extends { readonly id: Id }>(things: readonly Thing[]): ReadonlyMap<Id, Thing> {
  return new Map(things.map((thing) => [thing.id, thing]));
}

function grouped<Value>(pairs: readonly (readonly [Id, Value])[]): ReadonlyMap<Id, readonly Value[]> {
  const groups = new Map<Id, Value[]>();
  for (const [id, value] of pairs) listOf(groups, id).push(value);
  return groups;
}

/** The thing with this id; its absence is our fault, since the description refers to it. */
export function need<Value>(map: ReadonlyMap<Id, Value>, id: Id, what: string): Value {
  const value = map.get(id);
  if (value === undefined) throw new Error(`the description has no ${what} \`${id}\``);
  return value;
}

function bondsOf(network: Network, settled: Settled): Atlas["bonds"] {
  const atRest = new Map(settled.bonds.map((bond) => [bond.bond, bond]));
  return new Map(
    network.bonds.map((bond) => [bond.id, { bond, settled: need(atRest, bond.id, "settled bond") }] as const),
  );
}

function blocksOf(settled: Settled): Atlas["blocks"] {
  const blocks = new Map<Id, Map<Id, Origin>>();
  for (const { bridge, port, origin } of settled.blocked) {
    const known = blocks.get(bridge) ?? new Map<Id, Origin>();
    blocks.set(bridge, known.set(port, origin));
  }
  return blocks;
}

function nodesOf(network: Network, settled: Settled): ReadonlyMap<Id, Node> {
  const atRest = new Map(settled.stacks.map((stack) => [stack.stack, stack]));
  const tables = new Map(network.tables.map((table) => [table.id, table]));
  return new Map(
    network.stacks.map((stack) => {
      const table = need(tables, stack.routes, "table");
      if (table.kind !== "routes") throw new Error(`\`${stack.routes}\` is no table of routes`);
      return [stack.id, nodeOf(stack, need(atRest, stack.id, "settled stack"), table.otherwise)] as const;
    }),
  );
}

type Known = { readonly stack: Stack; readonly otherwise: RouteTable["otherwise"]; readonly node: Node };

const nodes = new WeakMap<SettledStack, Known>();

/** Worlds of one network share the stacks that are alike in them. */
function nodeOf(stack: Stack, settled: SettledStack, otherwise: RouteTable["otherwise"]): Node {
  const known = nodes.get(settled);
  if (known?.stack === stack && known.otherwise === otherwise) return known.node;
  const node = newNode(stack, settled, otherwise);
  nodes.set(settled, { stack, otherwise, node });
  return node;
}

function newNode(stack: Stack, settled: SettledStack, otherwise: RouteTable["otherwise"]): Node {
  const states = new Map(settled.interfaces.map((state) => [state.interface, state]));
  const own = keysOf(settled.interfaces.flatMap(addressesOf));
  const stretches = stretchesOf(settled.routes);
  const ways = waysOf(stretches);
  const { routesBack = settled.routes } = settled;
  const onward = numbersWhere(ways, (route) => route.action.do !== "local");
  const node: Node = {
    stack,
    legs: [],
    own,
    routes: settled.routes,
    stretches,
    ways,
    routesBack,
    waysBack: routesBack === settled.routes ? ways : waysOf(stretchesOf(routesBack)),
    otherwise,
    forwards: isRouter(stack),
    beyond: stack.answersFor === "everywhere" ? subtractRanges(ranges(...ALL_KEYS), onward) : [],
  };
  for (const leg of stack.interfaces) {
    const state = need(states, leg.id, "settled interface");
    node.legs.push({ interface: leg, settled: state, node, own: keysOf(addressesOf(state)) });
  }
  return node;
}

const ALL_KEYS: Ranges = ranges([0n, 2n ** 32n - 1n], [2n ** 128n, 2n ** 129n - 1n]);

/** What packets come to it for. */
function addressesOf({ addresses, anycast }: SettledInterface): SettledInterface["addresses"] {
  return [...addresses, ...anycast];
}

/** Keys of addresses that an interface sends from. */
export function sourcesOf({ settled }: Leg): Ranges {
  return keysOf(settled.addresses);
}

function keysOf(addresses: SettledInterface["addresses"]): Ranges {
  return ranges(...addresses.map((address) => [addressKey(address), addressKey(address)] as const));
}

function filtersOf(network: Network): (readonly [Id, FilterList])[] {
  return network.tables.flatMap((table) =>
    table.kind === "filter" ? [[table.id, { table, rules: filterListOf(table) }] as const] : [],
  );
}

/** The rules of a filter: all that let pass do the same, and so do the matches of any one rule. */
function filterListOf({ rules }: FilterTable): FilterList["rules"] {
  return new RuleList(rules, ({ action, id }) => (action.do === "accept" ? action.do : `rule ${id}`));
}

function translationsOf(network: Network): (readonly [Id, TranslateList])[] {
  return network.tables.flatMap((table) =>
    table.kind === "translate" ? [[table.id, { table, rules: new RuleList(table.rules) }] as const] : [],
  );
}
