/**
 * Who is at the other end: indexes over cables, radio associations, bridge ports and interfaces, so that following a
 * network costs what it reaches and no more.
 */
import { type AllConfigured, attachmentOf, type Configured, portsBehind } from "./configured.ts";
import type { RackInterface } from "./interfaces.ts";
import { ssidJoined } from "./radio.ts";
import type { PortOf } from "./references.ts";
import type { SiteCable } from "./site.ts";
import type { SiteBridgePort } from "./site-switching.ts";

/** A port or bond of a device. */
export type Attachment = {
  /** The device. */
  readonly device: Configured;
  /** Name of its port, radio or bond. */
  readonly name: string;
};

/** The indexes. */
export type Wiring = {
  /** Every device, by name. */
  readonly devices: AllConfigured;
  /** Place of each device in the documents. */
  readonly order: ReadonlyMap<string, number>;
  /** Port at the other end of a port's cable. */
  readonly farEnd: (device: string, port: string) => PortOf | undefined;
  /** Ports and bonds at the other ends of a port's or bond's cables. */
  readonly beyond: (attachment: Attachment) => readonly Attachment[];
  /** Interfaces that stand on a port or bond, or on the bridge (`undefined`). */
  readonly interfacesOn: (device: string, attachment: string | undefined) => readonly RackInterface[];
  /** The bridge port on a port or bond. */
  readonly bridgePort: (device: string, attachment: string) => SiteBridgePort | undefined;
  /** Radios of hosts on an SSID. */
  readonly clients: (ssid: string) => readonly Attachment[];
};

/** Builds the indexes. */
export function wire(devices: AllConfigured, cables: readonly SiteCable[]): Wiring {
  const ends = farEnds(cables);
  const standing = interfacesByPlace(devices);
  const bridged = bridgePorts(devices);
  const clients = clientsBySsid(devices);
  const farEnd = (device: string, port: string): PortOf | undefined => ends.get(portKey(device, port));
  return {
    devices,
    order: new Map([...devices.keys()].map((name, place) => [name, place])),
    farEnd,
    beyond: ({ device, name }) =>
      portsBehind(device, name).flatMap((port) => {
        const far = farEnd(device.rack.name, port);
        const other = far && devices.get(far.device);
        return far && other ? [{ device: other, name: attachmentOf(other, far.port) }] : [];
      }),
    interfacesOn: (device, attachment) => standing.get(portKey(device, attachment ?? BRIDGE)) ?? [],
    bridgePort: (device, attachment) => bridged.get(portKey(device, attachment)),
    clients: (ssid) => clients.get(ssid) ?? [],
  };
}

const BRIDGE = ":"; // no port is called so

function portKey(device: string, port: string): string {
  return `${device}:${port}`;
}

function farEnds(cables: readonly SiteCable[]): ReadonlyMap<string, PortOf> {
  const ends = new Map<string, PortOf>();
  for (const {
    ends: [a, b],
  } of cables) {
    ends.set(portKey(a.device, a.port), b);
    ends.set(portKey(b.device, b.port), a);
  }
  return ends;
}

function interfacesByPlace(devices: AllConfigured): ReadonlyMap<string, readonly RackInterface[]> {
  const standing = new Map<string, RackInterface[]>();
  for (const { rack, interfaces } of devices.values()) {
    for (const one of interfaces) {
      const key = portKey(rack.name, one.footing.on === "bridge" ? BRIDGE : one.footing.port);
      const others = standing.get(key);
      if (others === undefined) standing.set(key, [one]);
      else others.push(one);
    }
  }
  return standing;
}

function bridgePorts(devices: AllConfigured): ReadonlyMap<string, SiteBridgePort> {
  const bridged = new Map<string, SiteBridgePort>();
  for (const { rack, switched } of devices.values()) {
    for (const port of switched.bridge?.ports ?? []) bridged.set(portKey(rack.name, port.name), port);
  }
  return bridged;
}

/** SSIDs that anybody offers. */
export function offeredSsids(devices: Iterable<Pick<Configured, "ssids">>): ReadonlySet<string> {
  return new Set([...devices].flatMap(({ ssids }) => ssids.map(({ name }) => name)));
}

function clientsBySsid(devices: AllConfigured): ReadonlyMap<string, readonly Attachment[]> {
  const offered = offeredSsids(devices.values());
  const clients = new Map<string, Attachment[]>();
  for (const device of devices.values()) {
    const ssid = ssidJoined(device.joins, offered);
    const radio = device.rack.topology.radios?.value[0];
    if (ssid === undefined || radio === undefined) continue;
    const others = clients.get(ssid.value);
    if (others === undefined) clients.set(ssid.value, [{ device, name: radio.value }]);
    else others.push({ device, name: radio.value });
  }
  return clients;
}
