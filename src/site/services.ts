/**
 * What a device serves besides leases: administration, listeners, advertisements, the resolver, names, and the rescue
 * access that is claimed.
 */
import { type Address, formatPrefix, isMulticast, type Prefix, prefixOf } from "../address/index.ts";
import type { Advertise, List, Located, NameRecord, Rescue } from "../document/index.ts";
import { type Lookup, resolveAddress, resolveAddresses, serversAt } from "./address-names.ts";
import { prefixesOf } from "./addresses.ts";
import type { Configured } from "./configured.ts";
import { type Delegations, lackOfDelegation } from "./delegations.ts";
import { interfaceList, reportInterface } from "./filters.ts";
import type { RackInterface } from "./interfaces.ts";
import { findPort, findRack } from "./rack.ts";
import { defaultAt, type Setting, settingOf, settingOr, writtenAt } from "./setting.ts";
import type {
  SiteAdmin,
  SiteAdvertise,
  SiteListen,
  SiteName,
  SiteRecord,
  SiteRescue,
  SiteResolver,
  SiteServes,
} from "./site-service.ts";

/** The administration of a device. */
export function resolveAdmin(device: Configured, lookup: Lookup): SiteAdmin | undefined {
  const written = device.rack.intent?.admin;
  if (written === undefined) return undefined;
  return {
    origin: writtenAt(written.span),
    services: written.services.value.map((service) => settingOf(service)),
    listen: listenOf(written.listen, written.services, device, lookup),
  };
}

function listenOf(
  written: List<string> | undefined,
  place: Located<unknown>,
  device: Configured,
  lookup: Lookup,
): SiteListen {
  if (written !== undefined) return interfaceList(written, device, lookup);
  return { value: "all", origin: defaultAt(place.span, "a service listens on every address", "common practice") };
}

/** What a device serves; undefined where nothing is written. */
export function resolveServes(device: Configured, lookup: Lookup): Setting<readonly SiteServes[]> | undefined {
  const written = device.rack.intent?.serves;
  if (written === undefined) return undefined;
  const value = written.value.map(({ service, span, on }): SiteServes => {
    const listen: SiteListen =
      on.value.by === "all"
        ? { value: "all", origin: writtenAt(on.span) }
        : interfaceList({ value: on.value.items, span: on.span }, device, lookup);
    return { origin: writtenAt(span), service: settingOf(service), listen };
  });
  return { value, origin: writtenAt(written.span) };
}

/** The advertisements of a device. */
export function resolveAdvertise(
  device: Configured,
  lookup: Lookup & { readonly delegations: Delegations },
): readonly SiteAdvertise[] {
  return (device.rack.intent?.advertise?.value ?? []).flatMap((entry) => {
    const one = device.interfaces.find(({ name }) => name === entry.name.value);
    if (one !== undefined) return [{ ...advertiseOn(device.rack.name, one, entry, lookup), ...lackOf(one, lookup) }];
    reportInterface(entry.name, device, lookup.findings);
    return [];
  });
}

/** Why it advertises less than is meant. */
function lackOf(
  { network }: RackInterface,
  { delegations, directory }: Lookup & { readonly delegations: Delegations },
): Pick<SiteAdvertise, "lacking"> {
  const declared = network && directory.names.networks.get(network.value);
  const lacking = declared && lackOfDelegation(declared, delegations);
  return lacking === undefined ? {} : { lacking };
}

function advertiseOn(device: string, one: RackInterface, entry: Advertise, lookup: Lookup): SiteAdvertise {
  const { span } = entry.name;
  if (!one.speaks6.value) {
    lookup.findings.report("no-address", span, `\`${one.name}\` speaks no IPv6, so it has nothing to advertise from`, {
      also: [{ span: one.speaks6.origin.span, text: "neither the interface nor its network has `ipv6`" }],
      about: [device, ...(one.network === undefined ? [] : [one.network.value])],
    });
  }
  const rfc = (rule: string) => defaultAt(span, rule, "RFC 4861 section 6.2.1");
  return {
    interface: one.name,
    origin: writtenAt(span),
    routerLifetimeSeconds: settingOr(entry.routerLifetimeSeconds, 1800, rfc("a default router for 1800 s")),
    preference: settingOr(entry.preference, "medium", defaultAt(span, "medium preference", "RFC 4191 section 2.2")),
    prefixes: advertisedPrefixes(one, entry, lookup),
    autonomous: settingOr(entry.autonomous, true, rfc("hosts form addresses of the prefixes")),
    onLink: settingOr(entry.onLink, true, rfc("the prefixes are on the link")),
    resolvers: (resolveAddresses(entry.resolvers, 6, lookup)?.value ?? []).map(({ value, origin }) => ({
      value: value.value,
      origin,
    })),
    ...(entry.mtu === undefined ? {} : { mtu: settingOf(entry.mtu) }),
  };
}

/** Written ones, else those of the interface's network, else those of its own addresses. */
function advertisedPrefixes(
  one: RackInterface,
  entry: Advertise,
  { directory, findings }: Lookup,
): readonly Setting<Prefix>[] {
  if (entry.prefixes !== undefined) {
    return entry.prefixes.value.flatMap((prefix) => {
      const { family, value, length } = prefix.value;
      if (family === 6 && !isMulticast(prefix.value))
        return [{ value: { family, value, length }, origin: writtenAt(prefix.span) }];
      findings.report(
        "bad-prefix",
        prefix.span,
        `\`${formatPrefix({ family, value, length })}\` is no prefix to advertise`,
      );
      return [];
    });
  }
  const network = one.network && directory.names.networks.get(one.network.value);
  const declared = network === undefined ? [] : prefixesOf(network).filter(({ value }) => value.family === 6);
  if (declared.length > 0) return declared.map((prefix) => settingOf(prefix));
  return one.addresses
    .filter(({ family, length }) => family === 6 && length < 128)
    .map(({ value, length, origin }) => ({ value: prefixOf({ family: 6, value }, length), origin }));
}

/** The resolver of a device. */
export function resolveResolver(device: Configured, lookup: Lookup): SiteResolver | undefined {
  const written = device.rack.intent?.resolver;
  if (written === undefined) return undefined;
  const { span, listen, forward, records } = written;
  return {
    origin: writtenAt(span),
    listen: listenOf(listen, { value: undefined, span }, device, lookup),
    forward: (forward?.value ?? []).flatMap((address) => serversAt(address, lookup)),
    records: (records?.value ?? []).flatMap((record) => recordsOf(record, lookup)),
  };
}

function recordsOf({ name, addresses }: NameRecord, lookup: Lookup): readonly SiteRecord[] {
  return addresses.value.flatMap((written) => {
    const address = resolveAddress(written, undefined, lookup);
    return address === undefined ? [] : [{ name: name.value, address: address.value, origin: address.origin }];
  });
}

/** Names that the site's resolvers give for a device. */
export function resolveNames(device: Configured, lookup: Lookup): readonly SiteName[] {
  return (device.rack.intent?.names?.value ?? []).map(({ name, legs }) => ({
    name: name.value,
    origin: writtenAt(name.span),
    interfaces: interfaceList(legs, device, lookup).value,
  }));
}

/** Accesses that are claimed to work when all else fails. */
export function resolveRescue(device: Configured, lookup: Lookup): readonly SiteRescue[] {
  return (device.rack.intent?.rescue?.value ?? []).flatMap((rescue) => rescueOf(rescue, device, lookup) ?? []);
}

function rescueOf({ span, at, address, reaches }: Rescue, device: Configured, lookup: Lookup): SiteRescue | undefined {
  const { findings } = lookup;
  const port = findPort(device.rack, at.value, at.span, findings);
  const racks = new Map([...lookup.directory.wiring.devices].map(([name, one]) => [name, one.rack]));
  const devices = reaches.value.flatMap((name) =>
    findRack(racks, name, findings) === undefined ? [] : [settingOf(name)],
  );
  if (port === undefined) return undefined;
  const taken = address.value;
  const value: "lease" | Address = taken.by === "address" ? { family: taken.family, value: taken.value } : "lease";
  return {
    origin: writtenAt(span),
    port: settingOf(at),
    address: { value, origin: writtenAt(address.span) },
    reaches: devices,
  };
}
