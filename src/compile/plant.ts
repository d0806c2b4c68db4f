/**
 * A site with the indexes that compiling needs: devices by name, cables by port, radio clients, reserved addresses.
 */
import type { Origin } from "../diagnose/index.ts";
import type { PortOf, Setting, Site, SiteCable, SiteDevice, SiteInterface, SiteSsid } from "../site/index.ts";
import { PROFILES, type Profile } from "./profiles.ts";

/** A client of a radio network. */
export type RadioClient = {
  /** The host. */
  readonly device: SiteDevice;
  /** Its radio. */
  readonly port: string;
  /** The word that joins. */
  readonly join: Setting<string>;
};

/** The site with its indexes. */
export type SiteIndex = {
  /** The site. */
  readonly site: Site;
  /** Devices by name. */
  readonly devices: ReadonlyMap<string, SiteDevice>;
  /** The other end of a port's cable, with the cable. */
  readonly cableAt: (device: string, port: string) => { readonly far: PortOf; readonly cable: SiteCable } | undefined;
  /** Clients of an SSID, by the host's place in the documents. */
  readonly clientsOf: (ssid: string) => readonly RadioClient[];
  /** Who offers an SSID. */
  readonly offering: (ssid: string) => readonly { readonly device: SiteDevice; readonly ssid: SiteSsid }[];
  /** IPv4 addresses reserved for an interface by name. */
  readonly reservedFor: (device: string, name: string) => readonly bigint[];
};

/** Builds the indexes. */
export function indexSite(site: Site): SiteIndex {
  const devices = new Map(site.devices.map((device) => [device.name, device]));
  const cables = new Map<string, { far: PortOf; cable: SiteCable }>();
  for (const cable of site.cables) {
    const [a, b] = cable.ends;
    cables.set(key(a.device, a.port), { far: b, cable });
    cables.set(key(b.device, b.port), { far: a, cable });
  }
  const offers = groupBy(
    site.devices.flatMap((device) => device.ssids.map((ssid) => ({ device, ssid }))),
    ({ ssid }) => ssid.name,
  );
  const clients = groupBy(
    site.devices.flatMap((device) => clientOf(device, offers) ?? []),
    ({ join }) => join.value,
  );
  const reserved = reservations(site);
  return {
    site,
    devices,
    cableAt: (device, port) => cables.get(key(device, port)),
    clientsOf: (ssid) => clients.get(ssid) ?? [],
    offering: (ssid) => offers.get(ssid) ?? [],
    reservedFor: (device, name) => reserved.get(key(device, name)) ?? [],
  };
}

function key(device: string, name: string): string {
  return `${device}:${name}`;
}

/** Values by a text, in their order. */
export function groupBy<T>(values: readonly T[], keyOf: (value: T) => string): ReadonlyMap<string, readonly T[]> {
  const groups = new Map<string, T[]>();
  for (const value of values) {
    const name = keyOf(value);
    const group = groups.get(name);
    if (group === undefined) groups.set(name, [value]);
    else group.push(value);
  }
  return groups;
}

/** A client is on the first SSID of its list that somebody offers, with its first radio. */
function clientOf(device: SiteDevice, offers: ReadonlyMap<string, unknown>): RadioClient | undefined {
  const join = device.joins.find(({ value }) => offers.has(value));
  const radio = device.ports.find((port) => port.radio);
  return join && radio && { device, port: radio.name, join };
}

function reservations(site: Site): ReadonlyMap<string, readonly bigint[]> {
  const reserved = new Map<string, bigint[]>();
  for (const { for: meant, value } of site.devices.flatMap(({ dhcp }) =>
    dhcp.flatMap((server) => server.reservations),
  )) {
    if (meant === undefined) continue;
    const name = key(meant.device, meant.interface);
    reserved.set(name, [...(reserved.get(name) ?? []), value.value]);
  }
  return reserved;
}

/** The profile of a device. */
export function profileOf(device: SiteDevice): Profile {
  return PROFILES[device.profile.value];
}

/** The origin of something that a profile or standard asks for on a device. */
export function ruleOf(device: SiteDevice, rule: string, source: string): Origin {
  return { by: "default", span: (device.intent ?? device.origin).span, rule, source };
}

/** Port or bond that frames of a physical port belong to. */
export function attachmentOf(device: SiteDevice, port: string): string {
  return device.ports.find(({ name }) => name === port)?.bond ?? port;
}

/** An interface by its name. */
export function interfaceOf(device: SiteDevice, name: string): SiteInterface {
  const found = device.interfaces.find((one) => one.name === name);
  if (found === undefined) throw new Error(`\`${device.name}\` has no interface \`${name}\``);
  return found;
}
