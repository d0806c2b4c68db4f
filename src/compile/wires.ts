/**
 * Ports, bonds, and what joins ports: cables and radio associations.
 */
import type { Bond, Id, Link, Port } from "../network/index.ts";
import { portId } from "../network/index.ts";
import type { SiteBond, SiteCable, SiteDevice, SitePort } from "../site/index.ts";
import { withDigest } from "./digest.ts";
import { associationId, openAssociationId } from "./ids.ts";
import { beyondPorts, internetLinks } from "./internet.ts";
import { profileOf, type SiteIndex } from "./plant.ts";
import { tunnelLinks, tunnelPorts } from "./tunnels.ts";

/** Ports of a device: sockets, radios of a host, the associations of each radio network that it offers, ends of tunnels and of the internet. */
export function portsOf(device: SiteDevice, index: SiteIndex): readonly Port[] {
  return [
    ...device.ports.map((port) => portOf(device, port, index)),
    ...associationsOf(device, index),
    ...tunnelPorts(device),
    ...beyondPorts(device, index),
  ];
}

function portOf(device: SiteDevice, port: SitePort, index: SiteIndex): Port {
  const limit = index.cableAt(device.name, port.name)?.cable.rateMbps?.value ?? Number.POSITIVE_INFINITY;
  return withDigest({
    id: portId(device.name, port.name),
    origin: port.enabled.value ? port.origin : port.enabled.origin,
    device: device.name,
    rateMbps: Math.min(port.rateMbps.value, limit),
    mtu: port.mtu.value,
    enabled: port.enabled.value,
    hardware: port.hardware.value,
  });
}

/** One for each declared client, and one where an unknown client enters. */
function associationsOf(device: SiteDevice, index: SiteIndex): readonly Port[] {
  const mtu = device.bridge?.ports[0]?.membership.mtu?.value ?? device.ports[0]?.mtu.value ?? 1500;
  return device.ssids.flatMap((ssid) => {
    const association = (id: Id, origin = ssid.origin): Port =>
      withDigest({
        id,
        origin,
        device: device.name,
        rateMbps: 0,
        mtu,
        enabled: true,
        hardware: device.bridge?.hardware.value ?? 0n,
      });
    const clients = index.clientsOf(ssid.name);
    return [
      ...clients.map((client) =>
        association(associationId(device.name, ssid.name, client.device.name), client.join.origin),
      ),
      association(openAssociationId(device.name, ssid.name)),
    ];
  });
}

/** Bonds of a device. */
export function bondsOf(device: SiteDevice): readonly Bond[] {
  return device.bonds.map((bond) =>
    withDigest({
      id: portId(device.name, bond.name),
      origin: bond.origin,
      device: device.name,
      members: bond.members.map(({ value }) => portId(device.name, value)),
      hash: bond.hash.value,
      alone: bond.alone.value,
      ...minimumOf(bond),
      mode: modeOf(bond, device),
      hardware: bond.hardware.value,
      mtu: bond.mtu.value,
    }),
  );
}

function minimumOf({ minimum }: SiteBond): Pick<Bond, "minimum"> {
  if (minimum === undefined || minimum.value <= 1) return {};
  return { minimum: { members: minimum.value, origin: minimum.origin } };
}

function modeOf({ mode, activity, speed }: SiteBond, device: SiteDevice): Bond["mode"] {
  if (mode.value !== "lacp") return { kind: mode.value };
  return {
    kind: "lacp",
    active: activity.value === "active",
    fast: speed.value === "fast",
    passiveMayPair: profileOf(device).passiveMayPair.value,
  };
}

/** Every link of the site. */
export function linksOf(index: SiteIndex): readonly Link[] {
  const { cables, devices } = index.site;
  return [
    ...cables.map((cable) => cableLink(cable, index)),
    ...devices.flatMap((device) => radioLinks(device, index)),
    ...tunnelLinks(index),
    ...internetLinks(index),
  ];
}

/** `edge:lan1--core:p1`. */
export function linkId(a: Id, b: Id): Id {
  return `${a}--${b}`;
}

function cableLink({ ends: [a, b], origin, shares }: SiteCable, { devices }: SiteIndex): Link {
  const ends = [portId(a.device, a.port), portId(b.device, b.port)] as const;
  const fates = [a, b].flatMap((end) => devices.get(end.device)?.shares ?? []);
  const downWith = [...new Set([...shares, ...fates].map(({ value }) => value))];
  return withDigest({ id: linkId(...ends), origin, ends, kind: "cable", downWith, onDemand: false });
}

/** A client hears every access point that offers its SSID. */
function radioLinks(device: SiteDevice, index: SiteIndex): readonly Link[] {
  return device.ssids.flatMap((ssid) =>
    index.clientsOf(ssid.name).map((client) => {
      const ends = [
        portId(client.device.name, client.port),
        associationId(device.name, ssid.name, client.device.name),
      ] as const;
      const downWith = [...new Set([...device.shares, ...client.device.shares].map(({ value }) => value))];
      const id = linkId(...ends);
      return withDigest({ id, origin: client.join.origin, ends, kind: "radio", downWith, onDemand: false });
    }),
  );
}
