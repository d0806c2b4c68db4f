/**
 * Stacks at rest: which interfaces are up, and the routes that follow: connected ones of their addresses, and the stated
 * ones whose egress can be used. A stack that asks for no carrier keeps using a dead interface (see `routesNeedCarrier`).
 */
import { prefixOf, widthOf } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type {
  Id,
  Interface,
  InterfaceAddress,
  Route,
  RouteAction,
  RouteTable,
  SettledInterface,
  SettledStack,
  Stack,
} from "../network/index.ts";
import { withAnycast } from "./anycast.ts";
import { sendersOf, type Wires } from "./exits.ts";
import { knowsPeers, type Sessions } from "./sessions.ts";

/** Every stack, in the network's order, with stated addresses only. */
export function settleStacks(wires: Wires, sessions: Sessions): SettledStack[] {
  const tables = new Map(wires.plant.network.tables.map((table) => [table.id, table]));
  return wires.plant.network.stacks.map((stack) => {
    const table = tables.get(stack.routes);
    if (table?.kind !== "routes") throw new Error(`${stack.id} names ${stack.routes}, which is no table of routes`);
    return settleStack(wires, stack, table, sessions);
  });
}

function settleStack(wires: Wires, stack: Stack, table: RouteTable, sessions: Sessions): SettledStack {
  const interfaces = withAnycast(
    stack,
    stack.interfaces.map((leg): SettledInterface => {
      const up = isUp(wires, leg.on);
      if (!knowsPeers(leg)) return { interface: leg.id, up, addresses: leg.addresses, anycast: [] };
      const peers = up ? (sessions.get(leg.id) ?? []) : [];
      return { interface: leg.id, up: peers.length > 0, peers, addresses: leg.addresses, anycast: [] };
    }),
  );
  const usable = stack.interfaces.filter((leg, index) => {
    // Of a tunnel nobody sees whether the far end is there; without its session an interface is not there at all.
    if (leg.tunnel !== undefined) return true;
    return stack.routesNeedCarrier || leg.session !== undefined ? interfaces[index]?.up === true : isOn(wires, leg.on);
  });
  const key = [...interfaces.map(({ up, peers }) => `${up} ${peers?.join(",")}`), ...usable.map(({ id }) => id)].join(
    " ",
  );
  return once(stack, { table, plant: wires.plant, key }, () => settledWith(wires, stack, table, interfaces, usable));
}

/** What a stack came to, by what that rests on. */
type Known = { readonly table: RouteTable; readonly plant: Wires["plant"]; readonly key: string };

const known = new WeakMap<Stack, (Known & { readonly settled: SettledStack })[]>();

/** A stack whose own links are what they were is what it was: the last few states of each are kept. */
function once(stack: Stack, now: Known, settle: () => SettledStack): SettledStack {
  const all = known.get(stack) ?? [];
  known.set(stack, all);
  const before = all.find(({ table, plant, key }) => key === now.key && table === now.table && plant === now.plant);
  if (before !== undefined) return before.settled;
  const settled = settle();
  all[Math.min(all.length, MOST_STATES - 1)] = { ...now, settled };
  return settled;
}

/** The first one, of the whole site, stays. */
const MOST_STATES = 4;

function settledWith(
  wires: Wires,
  stack: Stack,
  table: RouteTable,
  interfaces: readonly SettledInterface[],
  usable: readonly Interface[],
): SettledStack {
  const up = new Set(usable.map(({ id }) => id));
  const source = wires.plant.devices.get(stack.device)?.profile === "linux" ? "linux" : CONNECTED_SOURCE;
  const stated = table.routes.flatMap((route) => living(route, up));
  const connected = usable.flatMap((leg) =>
    leg.addresses.flatMap((address) => connectedRoute(leg, address, source) ?? []),
  );
  const routes = sortRoutes([
    ...connected.filter((route) => !stated.some((other) => isSameLink(route, other))),
    ...stated,
  ]);
  const resolvers = [
    ...new Set(stack.interfaces.flatMap((leg) => (leg.resolvers ?? []).map(({ address }) => address))),
  ];
  return { stack: stack.id, interfaces, routes, resolvers };
}

/** RFC 1812: addresses of an interface's own prefix are reached directly over it. */
export const CONNECTED_SOURCE = "RFC 1812 section 5.2.4.3";

/** Whether an attachment has carrier; a bridge's own port has it when any other of its ports has. */
function isUp(wires: Wires, attachment: Id): boolean {
  const place = wires.plant.placeAt.get(attachment);
  if (!place?.port.own) return sendersOf(wires, attachment).length > 0;
  return place.bridge.ports.some((port) => !port.own && sendersOf(wires, port.on).length > 0);
}

/** Whether an attachment is switched on, with carrier or without. */
function isOn({ plant }: Wires, attachment: Id): boolean {
  return plant.ports.get(attachment)?.enabled !== false;
}

/** A stated route with the hops whose egress is up; none left: no route. */
function living(route: Route, up: ReadonlySet<Id>): Route[] {
  const { action } = route;
  if (action.do !== "forward") return [route];
  const hops = action.hops.filter(({ egress }) => up.has(egress));
  if (hops.length === 0) return [];
  return hops.length === action.hops.length ? [route] : [{ ...route, action: { do: "forward", hops } }];
}

/** The route to an address's own prefix; undefined for a prefix of the full width, which has no other address. */
export function connectedRoute(leg: Interface, address: InterfaceAddress, source: string): Route | undefined {
  if (address.prefixLength === widthOf(address.family)) return undefined;
  const prefix = prefixOf(address, address.prefixLength);
  const origin: Origin = { by: "default", rule: "connected route", source, span: address.origin.span };
  return onLinkRoute(`${address.id}/connected`, leg.id, prefix, origin);
}

/** A route straight onto an interface. */
export function onLinkRoute(
  id: Id,
  egress: Id,
  prefix: { readonly family: 4 | 6; readonly value: bigint; readonly length: number },
  origin: Origin,
): Route {
  const action: RouteAction = { do: "forward", hops: [{ egress }] };
  return { id, origin, family: prefix.family, prefix: prefix.value, length: prefix.length, metric: 0, action };
}

/** Whether two routes say the same: this prefix lies on that interface. */
export function isSameLink(a: Route, b: Route): boolean {
  const hop = directHop(a);
  return (
    hop !== undefined && hop === directHop(b) && a.family === b.family && a.prefix === b.prefix && a.length === b.length
  );
}

/** The interface that a route's prefix lies on; undefined where it leads to a router. */
function directHop({ action }: Route): Id | undefined {
  if (action.do !== "forward" || action.hops.length !== 1) return undefined;
  return action.hops[0]?.via === undefined ? action.hops[0]?.egress : undefined;
}

/** In the order of `RouteTable`: family, longest first, prefix, metric, then as given. */
export function sortRoutes(routes: readonly Route[]): Route[] {
  return [...routes].sort(
    (a, b) => a.family - b.family || b.length - a.length || compareNumbers(a.prefix, b.prefix) || a.metric - b.metric,
  );
}

function compareNumbers(a: bigint, b: bigint): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
