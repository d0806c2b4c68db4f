/**
 * Puts the parts of the description together.
 */
import { type Device, idOf, type Network, portId } from "../network/index.ts";
import type { Site, SiteDevice } from "../site/index.ts";
import { bridgeOf } from "./bridges.ts";
import { withDigest } from "./digest.ts";
import { filtersOf } from "./filters.ts";
import { groupsOf } from "./groups.ts";
import { sortedById } from "./ids.ts";
import { placesIn } from "./places.ts";
import { indexSite, type SiteIndex } from "./plant.ts";
import { servicesOf } from "./services.ts";
import { stackOf } from "./stacks.ts";
import { standInId, standInsOf } from "./stand-ins.ts";
import { translationsOf } from "./translations.ts";
import { bondsOf, linksOf, portsOf } from "./wires.ts";

/** The description of a site. */
export function compile(site: Site): Network {
  const index = indexSite(site);
  const places = placesIn(index);
  const standIns = standInsOf(index, places);
  const parts = [
    ...site.devices.map((device) => partsOf(device, index, false)),
    ...standIns.map(({ device }) => partsOf(device, index, true)),
  ];
  const byNetwork = new Map(standIns.map((standIn) => [standIn.network, standInId(standIn)]));
  return {
    format: 1,
    devices: sortedById(parts.map(({ device }) => device)),
    ports: sortedById(parts.flatMap(({ ports }) => ports)),
    links: sortedById([...linksOf(index), ...standIns.map(({ link }) => link)]),
    bonds: sortedById(parts.flatMap(({ bonds }) => bonds)),
    bridges: sortedById(parts.flatMap(({ bridges }) => bridges)),
    stacks: sortedById(parts.flatMap(({ stacks }) => stacks)),
    tables: sortedById(parts.flatMap(({ tables }) => tables)),
    services: sortedById(parts.flatMap(({ services }) => services)),
    groups: sortedById(groupsOf({ index, places, standIns: byNetwork })),
  };
}

/** What one device adds to each list of the description. */
type DeviceParts = Omit<Network, "format" | "devices" | "links" | "groups"> & {
  readonly device: Device;
};

function partsOf(device: SiteDevice, index: SiteIndex, standIn: boolean): DeviceParts {
  const bridge = bridgeOf(device, index);
  const compiled = stackOf(device, index);
  return {
    device: deviceOf(device, standIn),
    ports: portsOf(device, index),
    bonds: bondsOf(device),
    bridges: bridge === undefined ? [] : [bridge],
    stacks: compiled === undefined ? [] : [compiled.stack],
    tables: compiled === undefined ? [] : [compiled.routes, ...filtersOf(device), ...translationsOf(device)],
    // A client that only asks serves nothing; without a stack nothing can listen.
    services: compiled === undefined || standIn ? [] : servicesOf(device, index),
  };
}

function deviceOf(device: SiteDevice, standIn: boolean): Device {
  return withDigest({
    id: idOf(device.name),
    origin: device.origin,
    is: device.is,
    profile: device.profile.value,
    poweredBy: device.poweredBy.map(({ value }) => portId(value.device, value.port)),
    standIn,
  });
}
