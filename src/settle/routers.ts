/**
 * Routers that do not answer. A host prefers routes by routers that answer to all others, whatever their prefixes, and only then
 * the longest prefix (RFC 4191 section 3.2, hosts of type C; RFC 4861 section 6.3.6 for default routers). Whether it knows
 * already that a router is silent depends on what it sent before: that is a choice. Who forwards never does so, nor does
 * anybody in IPv4 (both seen on Linux 6.18).
 */
import { formatAddress, widthOf } from "../address/index.ts";
import type { Choice, Id, Network, Pick, Route, Router, Settled, SettledStack, Stack } from "../network/index.ts";
import { isRouter } from "./anycast.ts";
import { makeChoice, taken } from "./choices.ts";

/** What a host thinks of a router that does not answer; the first lasts once it has sent to it. */
const OPINIONS = ["given-up", "not-tried"] as const;

/** Routers of hosts in place of which another one would be taken, were they silent. */
export function routersWithOthers({ stacks }: Network, settled: Settled): readonly Router[] {
  const found = new Map<Id, Router>();
  stacks.forEach((stack, index) => {
    const at = settled.stacks[index];
    if (at === undefined || isRouter(stack)) return;
    const matching = matchingIn(at.routes);
    for (const route of at.routes) {
      const routers = routersOf(stack, route);
      if (routers.length === 0 || !hasOther(matching(route), route)) continue;
      for (const router of routers) found.set(idOf(router), router);
    }
  });
  return [...found.values()];
}

/** What stays open about a router that does not answer. */
export function routerChoice(router: Router): Choice {
  return makeChoice("router", idOf(router), OPINIONS, router.origin);
}

/** Whether a router is given up under these picks. */
export function isGivenUp(choice: Choice, picks: readonly Pick[]): boolean {
  return taken(choice, picks) === OPINIONS[0];
}

/** The site whose hosts have given up these routers: routes by them are gone wherever there is another one. */
export function withRoutersGivenUp(network: Network, settled: Settled, givenUp: readonly Router[]): Settled {
  if (givenUp.length === 0) return settled;
  const gone = new Set(givenUp.map(idOf));
  const stacks = settled.stacks.map((at, index): SettledStack => {
    const stack = network.stacks[index];
    if (stack === undefined || !stack.interfaces.some(({ id }) => givenUp.some((router) => router.interface === id)))
      return at;
    const matching = matchingIn(at.routes);
    const routes = at.routes.flatMap((route): Route[] => {
      if (route.action.do !== "forward" || route.family === 4) return [route];
      const hops = left(route.action.hops, gone);
      if (hops.length === route.action.hops.length) return [route];
      if (hops.length > 0) return [{ ...route, action: { do: "forward", hops } }];
      return matching(route).every((other) => isGone(other, gone)) ? [route] : [];
    });
    // Where a source belongs is asked of all routes, without a thought for who answers.
    return { ...at, routes, routesBack: at.routesBack ?? at.routes };
  });
  return { ...settled, stacks, givenUp };
}

function idOf({ interface: id, via }: Omit<Router, "origin">): Id {
  return `${id} via ${formatAddress({ family: 6, value: via })}`;
}

type Hops = Extract<Route["action"], { readonly do: "forward" }>["hops"];

/** Hops that do not lead to a router that is given up. */
function left(hops: Hops, gone: ReadonlySet<Id>): Hops {
  return hops.filter(({ egress, via }) => via === undefined || !gone.has(idOf({ interface: egress, via })));
}

function isGone({ action }: Route, gone: ReadonlySet<Id>): boolean {
  return action.do === "forward" && left(action.hops, gone).length === 0;
}

/** Routers on links where neighbours are asked for. */
function routersOf({ interfaces }: Stack, { family, action, origin }: Route): readonly Router[] {
  if (family === 4 || action.do !== "forward") return [];
  return action.hops.flatMap(({ egress, via }) => {
    const leg = interfaces.find(({ id }) => id === egress);
    const asks = leg !== undefined && leg.session === undefined && leg.tunnel === undefined;
    return via === undefined || !asks ? [] : [{ interface: egress, via, origin }];
  });
}

/** Whether a route by another hop comes after one among those that take all that it takes. */
function hasOther(all: readonly Route[], route: Route): boolean {
  return all.slice(all.indexOf(route) + 1).some((other) => !isSameHop(other, route));
}

/** Tells the routes that take all that a route takes, itself among them, the preferred first; those that refuse are some, too (seen on Linux 6.18). */
function matchingIn(routes: readonly Route[]): (route: Route) => readonly Route[] {
  const byPrefix = new Map<string, Route[]>();
  for (const route of routes) {
    const key = prefixKey(route, route.length);
    const known = byPrefix.get(key);
    if (known === undefined) byPrefix.set(key, [route]);
    else known.push(route);
  }
  const lengths = [...new Set(routes.map(({ length }) => length))].sort((a, b) => b - a);
  return (route) =>
    lengths.flatMap((length) => (length > route.length ? [] : (byPrefix.get(prefixKey(route, length)) ?? [])));
}

function prefixKey({ family, prefix }: Route, length: number): string {
  return `${family} ${length} ${prefix >> BigInt(widthOf(family) - length)}`;
}

function isSameHop({ action: one }: Route, { action: other }: Route): boolean {
  if (one.do !== "forward" || other.do !== "forward") return false;
  const words = ({ hops }: typeof one): string => hops.map(({ egress, via }) => `${egress} ${via}`).join(", ");
  return words(one) === words(other);
}
