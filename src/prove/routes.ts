/**
 * Longest prefix over sets: the routes of a stack as sorted disjoint stretches of the number line of addresses, found by
 * one sweep over nested prefixes. Of equal prefixes the lower metric wins, then the first (RFC 1812 section 5.2.4.3).
 * Thousands of prefixes mostly lead to a few next hops: sets of packets go by these *ways*, and which route it was is asked
 * of one packet once it is shown.
 */
import { FAMILY_KEYS, prefixKeys, type Ranges } from "../address/index.ts";
import type { Route } from "../network/index.ts";
import { cutBy, type Stretch } from "./stretches.ts";

const stretched = new WeakMap<readonly Route[], readonly Stretch<Route>[]>();

/** The routes that decide about some destinations. */
export function routesTo(routes: readonly Route[], destinations: Ranges): readonly Route[] {
  const stretches = stretched.get(routes) ?? stretchesOf(routes);
  stretched.set(routes, stretches);
  return cutBy(stretches, destinations).flatMap(({ value }) => value ?? []);
}

type Prefixed = { readonly low: bigint; readonly high: bigint; readonly route: Route };

/** All keys of both families, cut where another route begins to decide; without a value where there is no route. */
export function stretchesOf(routes: readonly Route[]): readonly Stretch<Route>[] {
  return ([4, 6] as const).flatMap((family) =>
    sweep(bestOf(routes.filter((route) => route.family === family)), family),
  );
}

/** One route a prefix, outer prefixes before the ones in them. */
function bestOf(routes: readonly Route[]): Prefixed[] {
  const best = new Map<string, Route>();
  for (const route of routes) {
    const key = `${route.prefix}/${route.length}`;
    const known = best.get(key);
    if (known === undefined || route.metric < known.metric) best.set(key, route);
  }
  const prefixed = [...best.values()].map((route) => {
    const [low, high] = prefixKeys({ family: route.family, value: route.prefix, length: route.length });
    return { low, high, route };
  });
  return prefixed.sort((a, b) => compare(a.low, b.low) || compare(b.high, a.high));
}

function compare(a: bigint, b: bigint): number {
  if (a === b) return 0;
  return a < b ? -1 : 1;
}

/** Walks ascending nested prefixes with the open ones on a stack. */
function sweep(prefixes: readonly Prefixed[], family: 4 | 6): Stretch<Route>[] {
  const stretches: Stretch<Route>[] = [];
  const open: Prefixed[] = [];
  let [from] = FAMILY_KEYS[family];
  const upTo = (end: bigint): void => {
    if (from > end) return;
    const route = open.at(-1)?.route;
    stretches.push({ low: from, high: end, ...valued(route) });
    from = end + 1n;
  };
  const closeBefore = (start: bigint): void => {
    for (let last = open.at(-1); last !== undefined && last.high < start; last = open.at(-1)) {
      upTo(last.high);
      open.pop();
    }
  };
  for (const prefix of prefixes) {
    closeBefore(prefix.low);
    upTo(prefix.low - 1n);
    open.push(prefix);
  }
  const end = FAMILY_KEYS[family][1];
  closeBefore(end + 1n);
  upTo(end);
  return stretches;
}

/** The same, with one route for all that lead to the same next hop, and neighbouring stretches of it in one. */
export function waysOf(stretches: readonly Stretch<Route>[]): readonly Stretch<Route>[] {
  const first = new Map<string, Route>();
  const ways: Stretch<Route>[] = [];
  for (const { low, high, value: route } of stretches) {
    const key = route === undefined ? undefined : hopOf(route);
    const known = (key === undefined ? undefined : first.get(key)) ?? route;
    if (key !== undefined && known !== undefined) first.set(key, known);
    const last = ways.at(-1);
    const isOne = last !== undefined && last.value === known && last.high + 1n === low;
    ways.splice(isOne ? -1 : ways.length, 1, { low: isOne ? last.low : low, high, ...valued(known) });
  }
  return ways;
}

function valued<Value>(value: Value | undefined): { readonly value?: Value } {
  return value === undefined ? {} : { value };
}

/** A word for the only next hop of a route; undefined: it is a choice, or none, so the route itself matters. */
function hopOf({ family, action }: Route): string | undefined {
  const [hop, ...others] = action.do === "forward" ? action.hops : [];
  return hop === undefined || others.length > 0 ? undefined : `${family} ${hop.egress} ${hop.via}`;
}
