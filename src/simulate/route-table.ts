/**
 * Longest prefix, then lowest metric, then first (RFC 1812 section 5.2.4.3): an index by length and prefix over the
 * routes of a stack, each list kept by identity. A test holds it to a naive scan.
 */
import { type Address, widthOf } from "../address/index.ts";
import type { Id, Route } from "../network/index.ts";

type Level = {
  /** Host bits, as a divisor for IPv4 and a shift for IPv6. */
  readonly length: number;
  /** Candidates of one prefix, best first. */
  readonly byPrefix: ReadonlyMap<number | bigint, readonly Route[]>;
};

type Index = { readonly 4: readonly Level[]; readonly 6: readonly Level[] };

const known = new WeakMap<readonly Route[], Index>();

function indexOf(routes: readonly Route[]): Index {
  const earlier = known.get(routes);
  if (earlier !== undefined) return earlier;
  const index = { 4: levelsOf(routes, 4), 6: levelsOf(routes, 6) };
  known.set(routes, index);
  return index;
}

function levelsOf(routes: readonly Route[], family: 4 | 6): Level[] {
  const lengths = new Map<number, Map<number | bigint, Route[]>>();
  for (const route of routes) {
    if (route.family !== family) continue;
    const byPrefix = lengths.get(route.length) ?? new Map<number | bigint, Route[]>();
    lengths.set(route.length, byPrefix);
    const key = prefixKey(family, route.prefix, route.length);
    byPrefix.set(key, insertByMetric(byPrefix.get(key) ?? [], route));
  }
  return [...lengths].map(([length, byPrefix]) => ({ length, byPrefix })).sort((a, b) => b.length - a.length);
}

/** Behind all of equal or lower metric, so that the first of equals stays first. */
function insertByMetric(routes: readonly Route[], route: Route): Route[] {
  const at = routes.findIndex((other) => other.metric > route.metric);
  return at < 0 ? [...routes, route] : [...routes.slice(0, at), route, ...routes.slice(at)];
}

function prefixKey(family: 4 | 6, value: bigint, length: number): number | bigint {
  if (family === 6) return value >> BigInt(widthOf(6) - length);
  return Math.floor(Number(value) / 2 ** (widthOf(4) - length));
}

/** The best route to an address; with `egress`, among those that leave there. Undefined: none. */
export function lookUpRoute(routes: readonly Route[], destination: Address, egress?: Id): Route | undefined {
  for (const { length, byPrefix } of indexOf(routes)[destination.family]) {
    const candidates = byPrefix.get(prefixKey(destination.family, destination.value, length));
    const best = candidates?.find((route) => egress === undefined || leavesBy(route, egress));
    if (best !== undefined) return best;
  }
  return undefined;
}

function leavesBy({ action }: Route, egress: Id): boolean {
  return action.do === "forward" && action.hops.some((hop) => hop.egress === egress);
}
