/**
 * DHCP servers and relays in full, and what upstreams hand out.
 */
import { type Address, formatAddress, type Prefix, prefixContains } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import type { AddressesOrNone, DhcpRelay, HandsOut, Located } from "../document/index.ts";
import { type Lookup, resolveAddress, resolveAddresses } from "./address-names.ts";
import type { Configured } from "./configured.ts";
import { reportInterface } from "./filters.ts";
import { upstreamAddresses } from "./interfaces.ts";
import { handedPool, type Lender, reportOutside } from "./lenders.ts";
import { absentAt, defaultAt, type Setting, settingOf, settingOr, writtenAt } from "./setting.ts";
import type { SiteDhcpServer, SiteHandsOut, SiteRelay, SiteReservation } from "./site-service.ts";

/** A DHCP server in full. */
export function resolveServer(
  lender: Lender,
  reservations: readonly SiteReservation[],
  relays: readonly SiteRelayPlace[],
  lookup: Lookup,
): SiteDhcpServer {
  const { entry, subnet, pool } = lender;
  reportOptions(lender, lookup);
  const { name, span } = { name: entry.name.value, span: entry.name.span };
  const own = ownAddress(lender, relays);
  return {
    name,
    origin: writtenAt(span),
    ...(lender.interface === undefined ? {} : { interface: lender.interface.name }),
    subnet,
    pool,
    leaseSeconds: settingOr(entry.leaseSeconds, 43200, defaultAt(span, "leases last 12 h", "common practice")),
    order: settingOr(entry.order, "lowest-first", defaultAt(span, "the lowest address goes first", "common practice")),
    routers: offered(entry.router, own, "clients are told the server's own address as router", span, lookup),
    resolvers: offered(
      entry.resolvers,
      lender.interface && own,
      "clients are told the server's own address as resolver",
      span,
      lookup,
    ),
    ...(entry.domain === undefined ? {} : { domain: settingOf(entry.domain) }),
    routes: handedRoutes(lender, lookup),
    reservations,
    authoritative: settingOr(
      entry.authoritative,
      true,
      defaultAt(span, "foreign requests are refused aloud", "common practice"),
    ),
    reads: settingOr(entry.reads, "socket", defaultAt(span, "the server reads a socket", "kernel fact 26")),
  };
}

/** A relay's place, for defaults of the servers that it asks. */
export type SiteRelayPlace = {
  /** Networks that its interface is in. */
  readonly networks: readonly string[];
  /** Its IPv4 address there. */
  readonly address: Setting<bigint>;
};

/** The address that options 3 and 6 default to: the server's on its interface, else the relay's in the network. */
function ownAddress(lender: Lender, relays: readonly SiteRelayPlace[]): Setting<bigint> | undefined {
  const { network } = lender;
  const own = lender.interface?.addresses.find(({ family }) => family === 4);
  if (own !== undefined) return { value: own.value, origin: own.origin };
  return network === undefined ? undefined : relays.find(({ networks }) => networks.includes(network))?.address;
}

function offered(
  written: Located<AddressesOrNone> | undefined,
  own: Setting<bigint> | undefined,
  rule: string,
  place: Span,
  lookup: Lookup,
): Setting<readonly Setting<bigint>[]> {
  const listed = resolveAddresses(written, 4, lookup);
  if (listed !== undefined) return { value: listed.value.map(numberOf), origin: listed.origin };
  return { value: own === undefined ? [] : [own], origin: defaultAt(place, rule, "dryrack") };
}

function numberOf({ value, origin }: Setting<Address>): Setting<bigint> {
  return { value: value.value, origin };
}

function handedRoutes({ entry }: Lender, lookup: Lookup): SiteDhcpServer["routes"] {
  return (entry.routes?.value ?? []).flatMap(({ span, to, via }) => {
    const hop = resolveAddress(via, 4, lookup);
    if (to.value.family !== 4) lookup.findings.report("bad-prefix", to.span, "a lease hands out IPv4 routes only");
    if (hop === undefined || to.value.family !== 4) return [];
    const prefix: Prefix = { family: 4, value: to.value.value, length: to.value.length };
    return [{ value: { to: prefix, via: hop.value.value }, origin: writtenAt(span) }];
  });
}

/** Options that have keys of their own, by number (RFC 2132, RFC 3442). */
const OWN_KEYS: ReadonlyMap<number, string> = new Map([
  [1, "the network's prefix"],
  [3, "router"],
  [6, "resolvers"],
  [15, "domain"],
  [51, "lease"],
  [121, "routes"],
]);

function reportOptions({ entry }: Lender, { findings }: Lookup): void {
  for (const { code } of entry.options?.value ?? []) {
    const key = OWN_KEYS.get(code.value);
    if (key === undefined) continue;
    findings.report(
      "keys-conflict",
      code.span,
      `option ${code.value} follows from \`${key}\` and is not written by number`,
    );
  }
}

/** Interfaces that relays are on, with their own addresses there. */
export function relayPlaces(device: Configured, { directory }: Pick<Lookup, "directory">): readonly SiteRelayPlace[] {
  const relays = device.rack.intent?.relay?.value ?? [];
  return relays.flatMap(({ name }) => {
    const leg = directory.legsOf(device.rack.name).find((one) => one.interface.name === name.value);
    const own = leg?.interface.addresses.find(({ family }) => family === 4);
    return leg && own ? [{ networks: leg.networks, address: { value: own.value, origin: own.origin } }] : [];
  });
}

/** The relays of a device. */
export function resolveRelays(device: Configured, lookup: Lookup): readonly SiteRelay[] {
  return (device.rack.intent?.relay?.value ?? []).flatMap((entry) => resolveRelay(entry, device, lookup) ?? []);
}

function resolveRelay(entry: DhcpRelay, device: Configured, lookup: Lookup): SiteRelay | undefined {
  const { name, to, via, source } = entry;
  const one = device.interfaces.find((candidate) => candidate.name === name.value);
  if (one === undefined) {
    reportInterface(name, device, lookup.findings);
    return undefined;
  }
  if (!one.addresses.some(({ family }) => family === 4)) {
    const message = `\`${device.rack.name}/${one.name}\` has no IPv4 address that a server could answer its relay at`;
    lookup.findings.report("no-address", name.span, message, {
      also: [{ span: one.origin.span, text: "the interface" }],
      about: [device.rack.name, ...(one.network === undefined ? [] : [one.network.value])],
    });
  }
  if (via !== undefined && device.interfaces.every((candidate) => candidate.name !== via.value))
    reportInterface(via, device, lookup.findings);
  return {
    interface: one.name,
    origin: writtenAt(name.span),
    servers: to.value.flatMap((server) => {
      const address = resolveAddress(server, 4, lookup);
      return address === undefined ? [] : [numberOf(address)];
    }),
    source: settingOr(
      source,
      "client-side",
      defaultAt(name.span, "relayed requests come from the client side", "kernel fact 30"),
    ),
    ...(via === undefined ? {} : { via: settingOf(via) }),
  };
}

/** What an upstream hands out. */
export function resolveHandsOut(device: Configured, lookup: Lookup): readonly SiteHandsOut[] {
  if (device.rack.topology.is.value !== "upstream") return [];
  const written = device.rack.intent?.handsOut?.value ?? [];
  // A port that does not exist was reported with the interface.
  return written
    .filter((entry) => device.interfaces.some(({ name }) => name === entry.port.value))
    .map((entry) => handsOut(entry, lookup));
}

function handsOut(entry: HandsOut, lookup: Lookup): SiteHandsOut {
  const { port, ipv4, ipv6 } = entry;
  reportHanded(entry, lookup);
  const own = upstreamAddresses(entry).find(({ family }) => family === 4);
  return {
    port: port.value,
    origin: writtenAt(port.span),
    ...(ipv4 === undefined ? {} : { ipv4: settingOf(ipv4) }),
    ...(own === undefined ? {} : { router: { value: own.value, origin: own.origin } }),
    pool: handedPool(entry, lookup.findings),
    leaseSeconds: settingOr(entry.leaseSeconds, 3600, defaultAt(port.span, "leases last 1 h", "common practice")),
    order: settingOr(
      entry.order,
      "lowest-first",
      defaultAt(port.span, "the lowest address goes first", "common practice"),
    ),
    resolvers: resolveAddresses(entry.resolvers, 4, lookup)?.value.map(numberOf) ?? [],
    ...(ipv6 === undefined ? {} : { ipv6: settingOf(ipv6) }),
    delegates: entry.delegates !== undefined,
    remembers: settingOr(entry.remembers, "nobody", absentAt(entry.span, "`remembers`")),
  };
}

function reportHanded({ ipv4, ipv6, router, hosts, delegates }: HandsOut, { findings }: Lookup): void {
  if (delegates !== undefined && ipv6 === undefined) {
    findings.report(
      "not-modelled",
      delegates.span,
      "prefixes delegated over a link without an own one are not modelled",
      {
        severity: "error",
        help: "write `ipv6` beside it",
      },
    );
  }
  const needs = [router, hosts].find((written) => written !== undefined);
  if (ipv4 === undefined && needs !== undefined)
    findings.report("missing-key", needs.span, "an IPv4 prefix is needed for this", {
      help: "write `ipv4` beside it",
      about: "anything",
    });
  if (ipv4 !== undefined && router !== undefined && !prefixContains(ipv4.value, router.value)) {
    reportOutside(`\`${formatAddress(router.value)}\``, router.span, settingOf(ipv4), findings);
  }
}
