/**
 * Longest prefix over sets: the routes of a stack as sorted disjoint stretches of the number line of addresses, found by
 * one sweep over nested prefixes. Of equal prefixes the lower metric wins, then the first (RFC 1812 section 5.2.4.3).
 */
import { FAMILY_KEYS, prefixKeys } from "../address/index.ts";
import type { Route } from "../network/index.ts";
import type { Stretch } from "./stretches.ts";

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
    stretches.push({ low: from, high: end, ...(route === undefined ? {} : { value: route }) });
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
