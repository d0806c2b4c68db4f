/**
 * Radio as cables: an association is a cable between the client and a port of the access point's bridge that carries the
 * VLAN of the radio network untagged. What is said of the air besides (rates, distance) is nobody's matter here.
 */
import {
  derivedHardware,
  type Site,
  type SiteBridgePort,
  type SiteCable,
  type SiteDevice,
  type SitePort,
  type SiteSsid,
} from "../site/index.ts";

/** A client with the radio network that it joins, and who offers it. */
type Association = {
  readonly client: SiteDevice;
  readonly radio: SitePort;
  readonly ssid: SiteSsid;
  readonly point: SiteDevice;
  /** Name of the port that stands for it. */
  readonly port: string;
};

/** The site with a cable for each client of a radio network that one access point offers; others keep their radios. */
export function airAsCables(site: Site): Site {
  const associations = site.devices.flatMap((client) => associationOf(client, site));
  const ofPoint = (name: string): readonly Association[] => associations.filter(({ point }) => point.name === name);
  const wired = new Set(associations.map(({ client }) => client.name));
  const devices = site.devices.map((device) => {
    const own = wired.has(device.name) ? { ...device, joins: [] } : device;
    return device.ssids.length === 0 ? own : withPorts(own, ofPoint(device.name), site);
  });
  return { ...site, devices, cables: [...site.cables, ...associations.map(cableOf)] };
}

/** The first of its list that somebody offers, at the one access point that does. */
function associationOf(client: SiteDevice, { devices }: Site): readonly Association[] {
  const radio = client.ports.find((port) => port.radio);
  const offers = client.joins
    .map(({ value }) =>
      devices.flatMap((point) => point.ssids.flatMap((ssid) => (ssid.name === value ? [{ point, ssid }] : []))),
    )
    .find((each) => each.length > 0);
  const [offer] = offers ?? [];
  if (radio === undefined || offer === undefined || offers?.length !== 1 || offer.ssid.radios.length !== 1) return [];
  return [{ client, radio, ...offer, port: `${client.name}~${radio.name}` }];
}

function withPorts(point: SiteDevice, associations: readonly Association[], { devices }: Site): SiteDevice {
  const { bridge } = point;
  if (bridge === undefined) return point;
  const joined = new Set(devices.flatMap(({ joins }) => joins.map(({ value }) => value)));
  const told = new Set(associations.map(({ ssid }) => ssid));
  return {
    ...point,
    // Nobody needs the air of a network without clients; one that could not be told apart stays.
    ssids: point.ssids.filter((ssid) => joined.has(ssid.name) && !told.has(ssid)),
    ports: [...point.ports, ...associations.map(portOf)],
    bridge: { ...bridge, ports: [...bridge.ports, ...associations.map(bridgePortOf)] },
  };
}

function portOf({ radio, port, ssid, point }: Association): SitePort {
  // Never the client's own: a bridge keeps what is addressed to one of its ports.
  const hardware = { value: derivedHardware(point.name, port), origin: ssid.origin };
  return { ...radio, name: port, origin: ssid.origin, radio: false, use: "switched", hardware };
}

function bridgePortOf({ port, ssid: { origin, vlan, isolated } }: Association): SiteBridgePort {
  return {
    name: port,
    origin,
    membership: {
      portVlan: vlan,
      admit: { value: "untagged", origin },
      leasesTrusted: { value: true, origin },
      isolated,
      members: [{ first: vlan.value, last: vlan.value, leaves: "untagged", origin: vlan.origin }],
      otherwise: origin,
    },
  };
}

function cableOf({ client, radio, point, port, ssid }: Association): SiteCable {
  return {
    origin: ssid.origin,
    ends: [
      { device: client.name, port: radio.name },
      { device: point.name, port },
    ],
    shares: [],
  };
}
