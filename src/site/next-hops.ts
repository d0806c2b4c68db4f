/**
 * Gateways and routes: each next hop is on the link of one of the device's interfaces, or the route is refused (kernel
 * fact 10).
 */
import { type Address, formatAddress, isLinkLocal, type Prefix, prefixContains, prefixOf } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import type { Located, RouteEntry } from "../document/index.ts";
import { type Lookup, resolveAddress, resolveAddresses, resolveServers } from "./address-names.ts";
import { prefixesOf } from "./addresses.ts";
import type { Configured } from "./configured.ts";
import type { Directory, Leg } from "./directory.ts";
import { entriesOf } from "./footing.ts";
import { isWritten } from "./lenders.ts";
import { type Setting, writtenAt } from "./setting.ts";
import type { SiteHop, SiteInterface, SiteRoute } from "./site-stack.ts";

/** The route to everything. */
function everywhere(family: 4 | 6): Prefix {
  return { family, value: 0n, length: 0 };
}

/** Written gateways and resolvers of an interface. */
export function resolveLearned(leg: Leg, lookup: Lookup): Pick<SiteInterface, "gateways" | "resolvers"> {
  const gateways = resolveAddresses(leg.interface.entry?.gateway, undefined, lookup);
  const resolvers = resolveServers(leg.interface.entry?.resolvers, lookup);
  return { ...(gateways === undefined ? {} : { gateways }), ...(resolvers === undefined ? {} : { resolvers }) };
}

/** Routes of a device: the gateways of its interfaces, then those written. */
export function resolveRoutes(
  device: Configured,
  interfaces: readonly SiteInterface[],
  lookup: Lookup,
): readonly SiteRoute[] {
  const legs = lookup.directory.legsOf(device.rack.name);
  const gateways = interfaces.flatMap((one) =>
    (one.gateways?.value ?? []).flatMap((gateway) => gatewayRoute(one, gateway, device, legs, lookup)),
  );
  const kind = device.rack.topology.is.value;
  const written = kind === "upstream" || kind === "unmanaged-switch" ? [] : (device.rack.intent?.routes?.value ?? []);
  return [...gateways, ...written.flatMap((entry) => writtenRoutes(entry, device, legs, lookup))];
}

function gatewayRoute(
  one: SiteInterface,
  gateway: Setting<Address>,
  device: Configured,
  legs: readonly Leg[],
  lookup: Lookup,
): readonly SiteRoute[] {
  const hop = hopTo(gateway, one.name, device, legs, lookup);
  if (hop === undefined) return [];
  const to = everywhere(gateway.value.family);
  return [{ origin: gateway.origin, to, metric: 0, action: "forward", hops: [hop] }];
}

/** The hop by which a device reaches an address on one of its links; undefined after a diagnostic. */
function hopTo(
  { value: via, origin }: Setting<Address>,
  preferred: string | undefined,
  device: Configured,
  legs: readonly Leg[],
  { directory, findings }: Lookup,
): SiteHop | undefined {
  const ordered = [...legs.filter((leg) => leg.interface.name === preferred), ...legs];
  const leg = ordered.find((candidate) => isOnLink(via, candidate, preferred, directory));
  const own = legs.some(({ interface: one }) => one.addresses.some((address) => sameAddress(address, via)));
  if (leg !== undefined && !own) return { interface: leg.interface.name, via, origin };
  if (!own && isPartlyKnown(device, legs)) return undefined;
  const { name } = device.rack;
  const text = formatAddress(via);
  const message = own ? `\`${text}\` is an address of \`${name}\` itself` : `\`${text}\` is on no link of \`${name}\``;
  // A link that nobody lends addresses on now, such as one whose cable is pulled in a story, may be the one that is meant.
  const unlent = own ? undefined : legs.find((each) => isUnlent(via, each, directory));
  findings.report("gateway-off-link", origin.span, message, {
    ...(unlent === undefined
      ? {}
      : { severity: "warning", notes: [`no lease comes to \`${unlent.interface.name}\`, so the route is left out`] }),
    also: legs.flatMap(({ interface: one }) =>
      one.addresses
        .filter(({ family }) => family === via.family)
        .slice(0, 1)
        .map((address) => ({
          span: address.origin.span,
          text: `\`${one.name}\` has ${formatAddress(address)}/${address.length}`,
        })),
    ),
    about: [name, ...legs.flatMap(({ networks }) => networks)],
  });
  return undefined;
}

/** Whether an interface, or its addresses, were left out after a diagnostic: what is off the link then may follow from it. */
function isPartlyKnown({ rack }: Configured, legs: readonly Leg[]): boolean {
  const lost = legs.some(({ interface: { entry, addresses } }) => {
    const written = entry?.host ?? entry?.ipv4?.value.find(({ value }) => value.by === "address");
    return written !== undefined && addresses.length === 0;
  });
  return lost || entriesOf(rack).length > legs.length;
}

/** Whether an interface waits for a lease of IPv4 and nobody is known to give it one. */
function isUnlent({ family }: Address, leg: Leg, directory: Directory): boolean {
  return (
    family === 4 &&
    leg.interface.lease !== undefined &&
    !learnedPrefixes(leg, directory).some((prefix) => prefix.family === 4)
  );
}

function sameAddress(a: Address, b: Address): boolean {
  return a.family === b.family && a.value === b.value;
}

/** On the link of stated addresses, or of the networks that a lease or advertisement will put the interface in. */
function isOnLink(via: Address, leg: Leg, preferred: string | undefined, directory: Directory): boolean {
  const { interface: one } = leg;
  if (via.family === 6 && isLinkLocal(via)) return one.name === preferred && one.speaks6.value;
  if (one.addresses.some((address) => prefixContains(prefixOf(address, address.length), via))) return true;
  const learns = via.family === 4 ? one.lease : one.advertised;
  return learns !== undefined && learnedPrefixes(leg, directory).some((prefix) => prefixContains(prefix, via));
}

/** Prefixes of its networks, and of what upstreams hand out to it. */
function learnedPrefixes({ networks, handed }: Leg, { names }: Directory): readonly Prefix[] {
  const own = networks.flatMap((name) => {
    const network = names.networks.get(name);
    return network === undefined ? [] : prefixesOf(network).map(({ value }) => value);
  });
  return [...own, ...handed];
}

function writtenRoutes(
  entry: RouteEntry,
  device: Configured,
  legs: readonly Leg[],
  lookup: Lookup,
): readonly SiteRoute[] {
  const out = entry.out === undefined ? undefined : outOf(entry.out, device, legs, lookup);
  if (entry.out !== undefined && out === undefined) return [];
  const vias = (entry.via?.value ?? []).map((via) => resolveAddress(via, familyOf(entry), lookup));
  const known = vias.filter((via) => via !== undefined);
  const origin = writtenAt(entry.span);
  return destinations(entry, known, out, lookup).flatMap((to): readonly SiteRoute[] => {
    const metric = entry.metric?.value ?? 0;
    if (entry.action !== undefined) return [{ origin, to, metric, action: entry.action.value, hops: [] }];
    const mine = known.filter((via) => via.value.family === to.family);
    const hops = mine.flatMap((via) => hopTo(via, entry.out?.value, device, legs, lookup) ?? []);
    const direct = entry.via === undefined && out !== undefined ? [{ interface: out.interface.name, origin }] : [];
    return [...hops, ...direct].length === 0
      ? []
      : [{ origin, to, metric, action: "forward", hops: [...hops, ...direct] }];
  });
}

function familyOf({ to: { value } }: RouteEntry): 4 | 6 | undefined {
  return value.by === "prefix" ? value.family : undefined;
}

function outOf(out: Located<string>, device: Configured, legs: readonly Leg[], { findings }: Lookup): Leg | undefined {
  const leg = legs.find((one) => one.interface.name === out.value);
  if (leg === undefined && !isWritten(device, out.value)) {
    const candidates = legs.map((one) => one.interface.name);
    findings.unknown({ kind: "interface", of: device.rack.name, name: out.value, span: out.span, candidates });
  }
  return leg;
}

/** Prefixes that a route is for; `default` stands for the families of its next hops, else for those of its interface. */
function destinations(
  { to: { value, span } }: RouteEntry,
  vias: readonly Setting<Address>[],
  out: Leg | undefined,
  lookup: Lookup,
): readonly Prefix[] {
  if (value.by === "prefix") return [{ family: value.family, value: value.value, length: value.length }];
  if (value.by === "name") return prefixesOfName(value.name, span, lookup);
  if (vias.length > 0) return [...new Set(vias.map((via) => via.value.family))].map(everywhere);
  const six = out === undefined || out.interface.speaks6.value;
  return six ? [everywhere(4), everywhere(6)] : [everywhere(4)];
}

function prefixesOfName(name: string, span: Span, { directory, findings }: Lookup): readonly Prefix[] {
  const network = directory.names.networks.get(name);
  if (network === undefined) {
    findings.unknown({ kind: "network", name, span, candidates: directory.names.networks.keys() });
    return [];
  }
  const prefixes = prefixesOf(network).map(({ value }) => value);
  if (prefixes.length === 0) {
    findings.report("no-address", span, `network \`${name}\` has no prefix to route to`, {
      also: [{ span: network.name.span, text: "the network" }],
      about: [name],
    });
  }
  return prefixes;
}
