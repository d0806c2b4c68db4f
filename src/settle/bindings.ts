/**
 * Leases and advertised addresses put in: each binding gives its interface an address, if it has one, its stack the connected
 * route, the routes it brought and the resolvers it named.
 */
import { addressKey } from "../address/index.ts";
import type {
  Binding,
  Id,
  Interface,
  InterfaceAddress,
  Network,
  Route,
  Service,
  Settled,
  SettledStack,
  Stack,
} from "../network/index.ts";
import { withAnycast } from "./anycast.ts";
import { equalPathChoice } from "./choices.ts";
import { plantOf } from "./plant.ts";
import { CONNECTED_SOURCE, connectedRoute, isSameLink, onLinkRoute, sortRoutes } from "./routes.ts";

/**
 * The site with these bindings, in place of those it had. Default routes are taken only by interfaces that want
 * one (`Awaits.gateway`); of several advertised ones the more preferred comes first, also before or after written ones of the
 * same metric, of several others the first binding's.
 */
export function withBindings(network: Network, settled: Settled, bindings: readonly Binding[]): Settled {
  const plant = plantOf(network);
  const services = new Map(network.services.map((service) => [service.id, service]));
  const byStack = new Map<Id, Binding[]>();
  for (const binding of bindings) {
    const stack = plant.legs.get(binding.interface)?.stack.id;
    if (stack === undefined) throw new Error(`a binding names ${binding.interface}, which is no interface`);
    byStack.set(stack, [...(byStack.get(stack) ?? []), binding]);
  }
  const stacks = settled.stacks.map((before, index) => {
    const stack = network.stacks[index];
    const own = byStack.get(before.stack);
    if (!stack || !own) return before;
    const source = plant.devices.get(stack.device)?.profile === "linux" ? "linux" : CONNECTED_SOURCE;
    return bindStack({ stack, services, source }, before, own);
  });
  return { ...settled, bindings, stacks, choices: choicesWith(settled, stacks) };
}

type Context = {
  readonly stack: Stack;
  readonly services: ReadonlyMap<Id, Service>;
  readonly source: string;
};

function bindStack(context: Context, before: SettledStack, bindings: readonly Binding[]): SettledStack {
  const learned = bindings.map((binding, index) => {
    const id = `${binding.interface}/learned/${index + 1}`;
    return { id, binding, address: addressOf(id, binding) };
  });
  const interfaces = withAnycast(
    context.stack,
    before.interfaces.map((leg) => {
      const gained = learned.flatMap(({ binding, address }) =>
        binding.interface === leg.interface && address !== undefined ? [address] : [],
      );
      return gained.length === 0 ? leg : { ...leg, addresses: [...leg.addresses, ...gained] };
    }),
  );
  const up = new Set(interfaces.filter((leg) => leg.up).map((leg) => leg.interface));
  const routes = [...before.routes];
  for (const { id, binding, address } of learned) {
    if (!up.has(binding.interface)) continue;
    for (const route of routesOf(context, id, binding, address)) {
      if (!routes.some((other) => isSameLink(route, other))) routes.push(route);
    }
  }
  const resolvers = new Set([...before.resolvers, ...bindings.flatMap((each) => resolverKeys(each, context.stack))]);
  const preferred = routes.some(({ metric }) => !Number.isInteger(metric));
  return {
    ...before,
    interfaces,
    routes: sortRoutes(routes),
    // Seen on Linux 6.18 (`fib saddr . iif` of nftables; random site 41266).
    ...(preferred ? { routesBack: sortRoutes(routes.map((route) => withoutPreference(route))) } : {}),
    resolvers: [...resolvers],
  };
}

function addressOf(id: Id, binding: Binding): InterfaceAddress | undefined {
  const { origin, family, value, prefixLength } = binding;
  if (value === undefined) return undefined;
  const isOld = binding.family === 6 && binding.deprecated === true;
  return { id, origin, family, value, prefixLength, ...(isOld ? { deprecated: true } : {}) };
}

/** Resolvers that are written for an interface stand in the place of those that it is told. */
function resolverKeys({ interface: id, family, resolvers }: Binding, { interfaces }: Stack): bigint[] {
  if (interfaces.find((leg) => leg.id === id)?.resolvers !== undefined) return [];
  return resolvers.map((value) => addressKey({ family, value }));
}

function routesOf(context: Context, learned: Id, binding: Binding, address?: InterfaceAddress): Route[] {
  const leg = context.stack.interfaces.find(({ id }) => id === binding.interface);
  if (!leg) return [];
  const connected = address === undefined ? undefined : connectedRoute(leg, address, context.source);
  const brought = binding.routes
    .filter(({ length }) => length > 0 || wantsGateway(leg, binding))
    .map((hop, index) => routeOf(context, binding, hop, `${learned}/route/${index + 1}`));
  return connected ? [connected, ...brought] : brought;
}

function wantsGateway({ awaits }: Interface, { family }: Binding): boolean {
  return awaits.some(({ from, gateway }) => gateway && from === (family === 4 ? "lease" : "advertisement"));
}

function routeOf(context: Context, binding: Binding, hop: Binding["routes"][number], id: Id): Route {
  const { family, origin } = binding;
  const route = onLinkRoute(id, binding.interface, { family, value: hop.prefix, length: hop.length }, origin);
  // The link itself is no router, so no preference goes with it.
  if (hop.via === undefined) return route;
  const metric = PREFERENCES[preferenceOf(context, binding)];
  return { ...route, metric, action: { do: "forward", hops: [{ egress: binding.interface, via: hop.via }] } };
}

/** Written routes are of the preference between the two; it decides among routes of one metric, and weighs less than a step. */
const PREFERENCES = { high: -0.5, medium: 0, low: 0.5 } as const;

function withoutPreference(route: Route): Route {
  return Number.isInteger(route.metric) ? route : { ...route, metric: PREFERENCES.medium };
}

/** Router preference of an advertisement (RFC 4191, from memory; kernel fact 51); leases have none. */
function preferenceOf({ services }: Context, { server }: Binding): keyof typeof PREFERENCES {
  const service = services.get(server);
  return service?.kind === "advertise" ? service.preference : "medium";
}

function choicesWith(settled: Settled, stacks: readonly SettledStack[]): Settled["choices"] {
  const known = new Set(settled.choices.map(({ id }) => id));
  const paths = stacks.flatMap(({ routes }) => routes.flatMap((route) => equalPathChoice(route) ?? []));
  const added = paths.filter(({ id }) => !known.has(id));
  if (added.length === 0) return settled.choices;
  return [...settled.choices, ...added].sort((a, b) => (a.id < b.id ? -1 : 1));
}
