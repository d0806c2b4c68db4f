/**
 * Tables of routes: connected ones, and those written. What no route fits has no route.
 */
import { formatPrefix, isBroadcast, lastAddress, type Prefix, prefixOf, widthOf } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import {
  type Id,
  type InterfaceAddress,
  idOf,
  type Route,
  type RouteAction,
  type RouteTable,
} from "../network/index.ts";
import type { SiteDevice, SiteRoute } from "../site/index.ts";
import { addressesOf } from "./addresses.ts";
import { withDigest } from "./digest.ts";
import { interfaceId, routesId } from "./ids.ts";
import { type Beyond, prefixesServed } from "./internet.ts";
import { profileOf, ruleOf } from "./plant.ts";
import { icmpRefusal, SILENT } from "./refusals.ts";
import { spreadOverPeers } from "./tunnels.ts";

/** The routes of a device. */
export function routesOf(device: SiteDevice, others: readonly Beyond[]): RouteTable {
  const zeros = profileOf(device).discardsAllZeros;
  const connected = device.interfaces.flatMap((one) => {
    const id = interfaceId(device.name, one.name);
    return addressesOf(one, id).flatMap((address) => [
      ...connectedRoute(id, address, device),
      ...(zeros.value ? allZerosRoute(address, zeros.source) : []),
    ]);
  });
  const taken = new Map<Id, number>();
  const written = device.routes.map((route) => writtenRoute(route, device, taken));
  const beyond = device.is === "upstream" ? [...everywhereRoutes(device), ...internetRoutes(device, others)] : [];
  return withDigest({
    id: routesId(device.name),
    origin: ruleOf(device, "routes of the device", "RFC 1812 section 5.2.4"),
    kind: "routes" as const,
    routes: inTableOrder(spreadOverPeers([...connected, ...written, ...beyond], device)),
    otherwise: {
      action: refusedRoute("no-route", "network-unreachable", device),
      origin: lackOf(device),
    },
  });
}

/** What no route fits: the list that lacks a route is what a person would change. */
function lackOf(device: SiteDevice): Origin {
  const { lacksRoutesAt: span } = device;
  return span === undefined
    ? ruleOf(device, "what no route fits is unreachable", "RFC 1812 section 5.2.7.1")
    : { by: "absent", span, wanted: "a gateway or a route" };
}

/** By family, longest first, prefix, metric; then as they come. */
function inTableOrder(routes: readonly Route[]): readonly Route[] {
  const compare = (a: bigint, b: bigint): number => (a < b ? -1 : a > b ? 1 : 0);
  return [...routes].sort(
    (a, b) => a.family - b.family || b.length - a.length || compare(a.prefix, b.prefix) || a.metric - b.metric,
  );
}

function routeTo(id: Id, to: Prefix, action: RouteAction, origin: Origin, metric = 0): Route {
  return { id, origin, family: to.family, prefix: to.value, length: to.length, metric, action };
}

/** RFC 1812: addresses of an own prefix are reached directly. */
function connectedRoute(egress: Id, address: InterfaceAddress, device: SiteDevice): readonly Route[] {
  if (address.prefixLength === widthOf(address.family)) return [];
  const prefix = prefixOf(address, address.prefixLength);
  const source = device.profile.value === "linux" ? "linux" : "RFC 1812 section 5.2.4.3";
  const origin: Origin = { by: "default", span: address.origin.span, rule: "connected route", source };
  return [routeTo(`${address.id}/connected`, prefix, { do: "forward", hops: [{ egress }] }, origin)];
}

/** The all-zeros host of a prefix that has a broadcast address. */
function allZerosRoute(address: InterfaceAddress, source: string): readonly Route[] {
  const prefix = prefixOf(address, address.prefixLength);
  if (!isBroadcast(lastAddress(prefix), prefix)) return [];
  const origin: Origin = { by: "default", span: address.origin.span, rule: "the all-zeros host is discarded", source };
  const host: Prefix = { family: 4, value: prefix.value, length: 32 };
  return [routeTo(`${address.id}/all-zeros`, host, { do: "refuse", reason: "martian", with: SILENT }, origin)];
}

function writtenRoute(route: SiteRoute, device: SiteDevice, taken: Map<Id, number>): Route {
  const base = idOf(device.name, "routes", formatPrefix(route.to));
  const earlier = taken.get(base) ?? 0;
  taken.set(base, earlier + 1);
  const id = earlier === 0 ? base : `${base}~${earlier + 1}`;
  return routeTo(id, route.to, actionOf(route, device), route.origin, route.metric);
}

function actionOf({ action, hops }: SiteRoute, device: SiteDevice): RouteAction {
  switch (action) {
    case "forward":
      return {
        do: "forward",
        hops: hops.map((hop) => ({
          egress: interfaceId(device.name, hop.interface),
          ...(hop.via === undefined ? {} : { via: hop.via.value }),
        })),
      };
    case "blackhole":
      return { do: "refuse", reason: "blackhole", with: SILENT };
    case "unreachable":
      return refusedRoute("unreachable", "route-unreachable", device);
    case "prohibit":
      return refusedRoute("prohibited", "prohibited", device);
  }
}

/** Who does not forward sends no error for what it will not forward (kernel fact 3); in IPv6 it does, without a route. */
function refusedRoute(
  reason: "no-route" | "unreachable" | "prohibited",
  error: Parameters<typeof icmpRefusal>[0],
  device: SiteDevice,
): RouteAction {
  const answer = icmpRefusal(error, "towards-sender");
  return { do: "refuse", reason, with: device.forwarding.value ? answer : { ...answer, silentFor: 4 } };
}

/**
 * What other upstreams serve is led to them, whether they are up or not; what this one serves itself is nobody else's while
 * its own link is down.
 */
function internetRoutes(device: SiteDevice, others: readonly Beyond[]): readonly Route[] {
  const origin = ruleOf(device, "the internet leads to the upstream that serves a prefix", "dryrack");
  const id = (to: Prefix, towards: string): Id => `${idOf(device.name, "routes", formatPrefix(to))}~internet${towards}`;
  const led = others.flatMap(({ other, prefixes, leg }) =>
    prefixes.map((to) =>
      routeTo(id(to, `/${idOf(other.name)}`), to, { do: "forward", hops: [{ egress: leg }] }, origin, 1),
    ),
  );
  const refused = refusedRoute("unreachable", "route-unreachable", device);
  const kept = prefixesServed(device).map((to) => routeTo(id(to, ""), to, refused, origin, LAST));
  return [...led, ...kept];
}

/** The metric of a route that is taken when no other one is left. */
const LAST = 2 ** 32 - 1;

/** An upstream is itself all that lies beyond it. */
function everywhereRoutes(device: SiteDevice): readonly Route[] {
  const origin = ruleOf(device, "an upstream stands for everything beyond it", "dryrack");
  return ([4, 6] as const).map((family) => {
    const to: Prefix = { family, value: 0n, length: 0 };
    return routeTo(idOf(device.name, "routes", formatPrefix(to)), to, { do: "local" }, origin);
  });
}
