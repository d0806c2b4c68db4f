/**
 * Services: listeners, DHCP servers and relays, advertisers, resolvers, and what an upstream hands out.
 */
import { addressKey, normalizeRanges, type Prefix, single } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import {
  type Advertise,
  type Alternatives,
  type DhcpServer,
  type Id,
  idOf,
  type Part,
  type Resolve,
  type Service,
} from "../network/index.ts";
import type {
  SiteAdvertise,
  SiteDevice,
  SiteDhcpServer,
  SiteHandsOut,
  SiteListen,
  SiteResolver,
} from "../site/index.ts";
import { withDigest } from "./digest.ts";
import { interfaceId, stackId } from "./ids.ts";
import { serviceMatches, within } from "./matches.ts";
import { interfaceOf, ruleOf, type SiteIndex } from "./plant.ts";
import { interfaceIds } from "./tunnels.ts";

/** Everything that runs on a device. */
export function servicesOf(device: SiteDevice, index: SiteIndex): readonly Service[] {
  return [
    ...listenersOf(device),
    ...device.dhcp.map((server) => dhcpService(device, server)),
    ...device.handsOut.flatMap((port) => handedServices(device, port)),
    ...device.relays.map((relay): Service => {
      const content = {
        kind: "dhcp-relay" as const,
        interface: interfaceId(device.name, relay.interface),
        servers: relay.servers.map(({ value }) => value),
        source: relay.source.value === "client-side" ? ("gateway-address" as const) : ("egress-address" as const),
        ...(relay.via === undefined ? {} : { via: interfaceIds(device, relay.via.value) }),
      };
      return serviceOf(device, idOf(device.name, "relay", relay.interface), relay.origin, content);
    }),
    ...device.advertise.map((advertise) => advertiseService(device, advertise)),
    ...(device.resolver === undefined ? [] : [resolverService(device, device.resolver, index)]),
    ...tunnelListeners(device),
  ];
}

function serviceOf<T extends object>(
  device: SiteDevice,
  id: Id,
  origin: Origin,
  content: T,
): Part & { readonly stack: Id } & T {
  return withDigest({ id, origin, stack: stackId(device.name), ...content });
}

function boundTo(device: SiteDevice, { value }: SiteListen): readonly Id[] | "all" {
  return value === "all" ? "all" : value.flatMap((name) => interfaceIds(device, name.value));
}

function listenersOf(device: SiteDevice): readonly Service[] {
  const { admin, serves } = device;
  const administration =
    admin === undefined
      ? []
      : [
          serviceOf(device, idOf(device.name, "admin"), admin.origin, {
            kind: "listen" as const,
            when: serviceMatches(admin.services),
            boundTo: boundTo(device, admin.listen),
            administers: true,
            assumed: false,
          }),
        ];
  const written = (serves?.value ?? []).map(({ origin, service, listen }, place) =>
    serviceOf(device, idOf(device.name, "serves", `${place}`), origin, {
      kind: "listen" as const,
      when: serviceMatches([service]),
      boundTo: boundTo(device, listen),
      administers: false,
      assumed: false,
    }),
  );
  return [...administration, ...written, ...assumedListener(device)];
}

/** A host of which nobody says what it serves, and the internet, are taken to answer everything. */
function assumedListener(device: SiteDevice): readonly Service[] {
  const open = device.is === "upstream" || (device.is === "host" && device.serves === undefined);
  if (!open || device.interfaces.length === 0) return [];
  const rule =
    device.is === "upstream"
      ? "addresses of the internet answer every service"
      : "a host without `serves` listens on everything";
  return [
    serviceOf(device, idOf(device.name, "serves", "any"), ruleOf(device, rule, "dryrack"), {
      kind: "listen" as const,
      when: [[]],
      boundTo: "all" as const,
      administers: false,
      assumed: true,
    }),
  ];
}

/** Outer packets of a tunnel are taken, and answered to its peers alone. */
function tunnelListeners(device: SiteDevice): readonly Service[] {
  if (device.interfaces.length === 0) return [];
  return device.tunnels.flatMap(({ name, listen }): readonly Service[] => {
    if (listen === undefined) return [];
    const { origin, value } = listen;
    const when: Alternatives = [
      [within("protocol", single(17n), origin), within("destinationPort", single(BigInt(value)), origin)],
    ];
    const content = { kind: "listen", when, boundTo: "all", administers: false, silent: true, assumed: false } as const;
    return [serviceOf(device, idOf(device.name, "tunnels", name), origin, content)];
  });
}

type Run = { readonly value: { readonly first: bigint; readonly last: bigint } };

function poolOf(runs: readonly Run[]): DhcpServer["pool"] {
  return normalizeRanges(runs.map(({ value: { first, last } }) => [first, last] as const));
}

function subnetOf({ value, length }: Prefix): DhcpServer["subnet"] {
  return { value, length };
}

function dhcpService(device: SiteDevice, server: SiteDhcpServer): Service {
  const { domain } = server;
  const id = idOf(device.name, "dhcp", server.name);
  const content: DhcpServer = {
    kind: "dhcp-server",
    ...(server.interface === undefined ? {} : { interface: interfaceId(device.name, server.interface) }),
    subnet: subnetOf(server.subnet.value),
    pool: poolOf(server.pool),
    order: server.order.value,
    authoritative: server.authoritative.value,
    reads: server.reads.value,
    leaseSeconds: server.leaseSeconds.value,
    reservations: server.reservations.map(({ client, origin, hardware, value }, place) => ({
      id: `${id}/${place}~${client}`,
      origin,
      hardware: hardware.value,
      value: value.value,
    })),
    routers: server.routers.value.map(({ value }) => value),
    routerLines: linesOf(server.routers),
    resolvers: server.resolvers.value.map(({ value }) => value),
    resolverLines: linesOf(server.resolvers),
    ...(domain === undefined ? {} : { domain: domain.value }),
    routes: server.routes.map(({ value: { to, via } }) => ({ prefix: to.value, length: to.length, via })),
  };
  return serviceOf(device, id, server.origin, content);
}

/** Where each of a list is written; of an empty one, and of one that nobody wrote, where that is. */
function linesOf({ value, origin }: SiteDhcpServer["resolvers"] | SiteDhcpServer["routers"]): readonly Origin[] {
  if (value.length === 0) return [origin];
  return value.map((each) => (origin.by === "default" ? origin : each.origin));
}

/** Lifetimes of an advertised prefix: RFC 4861 section 6.2.1. */
const VALID_SECONDS = 2592000; // 30 days
const PREFERRED_SECONDS = 604800; // 7 days

function advertised(prefix: Prefix, onLink: boolean, autonomous: boolean): Advertise["prefixes"][number] {
  const { value, length } = prefix;
  return { value, length, onLink, autonomous, validSeconds: VALID_SECONDS, preferredSeconds: PREFERRED_SECONDS };
}

function advertiseService(device: SiteDevice, written: SiteAdvertise): Service {
  const { mtu, onLink, autonomous, lacking } = written;
  return serviceOf(device, idOf(device.name, "advertise", written.interface), written.origin, {
    kind: "advertise" as const,
    interface: interfaceId(device.name, written.interface),
    routerSeconds: written.routerLifetimeSeconds.value,
    ...(written.routerLifetimeSeconds.origin.by === "written" ? {} : { whileLed: true as const }),
    preference: written.preference.value,
    prefixes: written.prefixes.map(({ value }) => advertised(value, onLink.value, autonomous.value)),
    resolvers: written.resolvers.map(({ value }) => value),
    resolverLines: written.resolvers.map(({ origin }) => origin),
    ...(lacking === undefined ? {} : { lacking }),
    ...(mtu === undefined ? {} : { mtu: mtu.value }),
  });
}

/** What an upstream hands out on a port: leases of IPv4 with itself as router, and its IPv6 prefix. */
function handedServices(device: SiteDevice, handed: SiteHandsOut): readonly Service[] {
  const { port, origin, ipv4, ipv6, router, pool } = handed;
  const on = interfaceId(device.name, port);
  const lent: DhcpServer | undefined =
    ipv4 === undefined || pool.length === 0
      ? undefined
      : {
          kind: "dhcp-server",
          interface: on,
          subnet: subnetOf(ipv4.value),
          pool: poolOf(pool),
          order: handed.order.value,
          authoritative: true,
          reads: "socket",
          ...(interfaceOf(device, port).session === undefined ? {} : { bySession: true }),
          leaseSeconds: handed.leaseSeconds.value,
          reservations: [],
          routers: router === undefined ? [] : [router.value],
          routerLines: router === undefined ? [] : [router.origin],
          resolvers: handed.resolvers.map(({ value }) => value),
          resolverLines: handed.resolvers.map(({ origin: line }) => line),
          routes: [],
        };
  const told: Advertise | undefined = ipv6 && {
    kind: "advertise",
    interface: on,
    routerSeconds: 1800, // RFC 4861 section 6.2.1
    preference: "medium",
    prefixes: [advertised(ipv6.value, true, true)],
    resolvers: [],
  };
  return [
    ...(lent === undefined ? [] : [serviceOf(device, idOf(device.name, "dhcp", port), origin, lent)]),
    ...(told === undefined ? [] : [serviceOf(device, idOf(device.name, "advertise", port), origin, told)]),
  ];
}

function resolverService(device: SiteDevice, resolver: SiteResolver, index: SiteIndex): Service {
  const listen = boundTo(device, resolver.listen);
  const own = resolver.records.map(({ name, address, origin }) => ({ name, address: addressKey(address), origin }));
  const content: Resolve = {
    kind: "resolve",
    listen: listen === "all" ? device.interfaces.flatMap((one) => interfaceIds(device, one.name)) : listen,
    forward: resolver.forward.map(({ value, origin }) => ({ address: addressKey(value), origin })),
    records: [...own, ...deviceRecords(index)],
    lent: lentNames(index),
  };
  return serviceOf(device, idOf(device.name, "resolver"), resolver.origin, content);
}

/** Names of the site's devices, with the addresses that are stated or reserved for the legs named. */
function deviceRecords(index: SiteIndex): Resolve["records"] {
  return index.site.devices.flatMap((device) =>
    device.names.flatMap(({ name, origin, interfaces }) =>
      interfaces.flatMap(({ value }) => fixedKeys(device, value, index).map((address) => ({ name, address, origin }))),
    ),
  );
}

/** Names of devices without any such address. */
function lentNames(index: SiteIndex): Resolve["lent"] {
  return index.site.devices.flatMap((device) =>
    device.names
      .filter(({ interfaces }) => interfaces.every(({ value }) => fixedKeys(device, value, index).length === 0))
      .map(({ name, origin }) => ({ name, origin })),
  );
}

/** Keys of the addresses of an interface that are known beforehand. Keys of IPv4 addresses are their numbers. */
export function fixedKeys(device: SiteDevice, name: string, index: SiteIndex): readonly bigint[] {
  const stated = statedKeys(device, name);
  const isLent = interfaceOf(device, name).lease !== undefined;
  return isLent ? [...stated, ...index.reservedFor(device.name, name)] : stated;
}

/** Keys of those among them that are written for it; the others are kept for it by a server. */
export function statedKeys(device: SiteDevice, name: string): readonly bigint[] {
  return interfaceOf(device, name).addresses.map(addressKey);
}
