/**
 * Stand-in clients on a kernel: a question may plug in a client that no document declares. The site gets it as one more host;
 * where the socket is in use, a plain switch goes between, as one would do on site.
 */
import type { Origin } from "../diagnose/index.ts";
import { deviceOf, type Id, type Link, lastName, type Network } from "../network/index.ts";
import {
  bareDevice,
  barePort,
  derivedHardware,
  newClient,
  type PortOf,
  type Setting,
  type Site,
  type SiteBridge,
  type SiteCable,
  type SiteDevice,
  type SiteMembership,
} from "../site/index.ts";

/** The site with the clients of these links, or the links that lead to no socket. */
export function withGuests(site: Site, network: Network, up: readonly Id[]): Site | readonly Link[] {
  const links = network.links.filter(({ id }) => up.includes(id));
  const homeless = links.filter((link) => link.kind !== "cable");
  if (homeless.length > 0) return homeless;
  return links.reduce((grown, link) => plugIn(grown, link, network), site);
}

function plugIn(site: Site, { ends, origin }: Link, network: Network): Site {
  const [one, other] = ends.map((end): PortOf => ({ device: deviceOf(end), port: lastName(end) }));
  if (one === undefined || other === undefined) throw new Error("a link without two ends");
  const [guest, place] = site.devices.some(({ name }) => name === one.device) ? [other, one] : [one, other];
  const devices = [...site.devices, newClient(guest, origin, { six: hearsAdvertisements(guest.device, network) })];
  const used = site.cables.find((cable) => cable.ends.some((end) => isSame(end, place)));
  if (used === undefined) return { ...site, devices, cables: [...site.cables, cable(guest, place, origin)] };
  const hub = hubAt(`${guest.device}~switch`, origin);
  const at = (port: string): PortOf => ({ device: hub.name, port });
  const far = used.ends.find((end) => !isSame(end, place)) ?? place;
  const others = site.cables.filter((each) => each !== used);
  const spliced = [cable(place, at("p1"), origin), cable(at("p2"), far, origin), cable(guest, at("p3"), origin)];
  return { ...site, devices: [...devices, hub], cables: [...others, ...spliced] };
}

function hearsAdvertisements(device: string, { stacks }: Network): boolean {
  const legs = stacks.filter((stack) => stack.device === device).flatMap(({ interfaces }) => interfaces);
  return legs.some(({ awaits }) => awaits.some(({ from }) => from === "advertisement"));
}

function isSame(one: PortOf, other: PortOf): boolean {
  return one.device === other.device && one.port === other.port;
}

function cable(one: PortOf, other: PortOf, origin: Origin): SiteCable {
  return { origin, ends: [one, other], shares: [] };
}

// -- devices -------------------------------------------------------------------------------------------------------

/** A plain switch of three ports. */
function hubAt(name: string, origin: Origin): SiteDevice {
  const ports = ["p1", "p2", "p3"].map((port) => barePort(name, port, "switched", origin));
  const set = <T>(value: T): Setting<T> => ({ value, origin });
  const membership: SiteMembership = {
    portVlan: set(1),
    admit: set("all"),
    leasesTrusted: set(true),
    isolated: set(false),
    members: [],
    otherwise: origin,
  };
  const bridge: SiteBridge = {
    origin,
    tags: set("ignored"),
    unmanaged: true,
    spanningTreeFrames: set("pass"),
    ports: ports.map((port) => ({ name: port.name, origin, membership })),
    ageingSeconds: set(300), // kernel fact 38; no probe lasts so long
    hardware: set(derivedHardware(name, "p1")),
  };
  return { ...bareDevice(name, "unmanaged-switch", origin), ports, bridge };
}
