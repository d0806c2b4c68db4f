/**
 * What even a kernel that knows tags, bonds and spanning tree cannot show of a device's link layer.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Setting, Site, SiteBond, SiteBridgePort, SiteDevice } from "../site/index.ts";
import { highestCost } from "./costs.ts";
import type { Unsupported } from "./plan.ts";

/** Largest path cost that the kernel takes. */
const HIGHEST_COST = 65_535;

/** What of a device's link layer is out of reach. */
export function unsupportedLinks(device: SiteDevice, site: Site): readonly Unsupported[] {
  const { bridge, bonds, name } = device;
  const cabled = new Set(
    site.cables.flatMap(({ ends }) => ends.filter((end) => end.device === name).map(({ port }) => port)),
  );
  const isThere = (port: string): boolean => cabled.has(port) || bonds.some((bond) => bond.name === port);
  const trees = site.devices.some((each) => each.bridge?.tree !== undefined);
  const ports = bridge?.ports.filter((port) => isThere(port.name)) ?? [];
  const eats = bridge !== undefined && bridge.tree === undefined && bridge.spanningTreeFrames.value === "eat" && trees;
  return [
    ...bonds.flatMap((bond) => unsupportedBond(bond, device)),
    ...(bridge?.tags.value === "obeyed" ? ports.flatMap((port) => unsupportedPort(port, device)) : []),
    ...(eats ? [{ origin: bridge.spanningTreeFrames.origin, what: `eating spanning-tree frames on \`${name}\`` }] : []),
    ...(bridge?.tree === undefined
      ? []
      : ports.flatMap((port) => unsupportedCost(port, device, site, bridge.tree?.origin))),
  ];
}

function unsupportedBond({ mode, alone, minimum, name }: SiteBond, device: SiteDevice): readonly Unsupported[] {
  const place = `\`${device.name}:${name}\``;
  if (mode.value === "lacp") {
    return alone.value === "none" ? [{ origin: alone.origin, what: `a bond that waits for a partner, ${place}` }] : [];
  }
  return minimum === undefined || minimum.value <= 1
    ? []
    : [{ origin: minimum.origin, what: `a minimum of members without LACP, ${place}` }];
}

function unsupportedPort({ name, membership }: SiteBridgePort, device: SiteDevice): readonly Unsupported[] {
  const { portVlan, admit, filterIngress, leasesTrusted, members } = membership;
  const place = `\`${device.name}:${name}\``;
  const entry = portVlan.value;
  const isMember = entry === "refused" || members.some(({ first, last }) => first <= entry && entry <= last);
  return [
    ...unless(leasesTrusted.value, leasesTrusted, `a port that answers of DHCP servers may not enter by, ${place}`),
    ...(filterIngress === undefined
      ? []
      : unless(filterIngress.value, filterIngress, `tags that a port does not carry but takes, ${place}`)),
    ...unless(isMember || admit.value === "tagged", portVlan, `a port VLAN that never leaves ${place}`),
  ];
}

function unless(fits: boolean, { origin }: Setting<unknown>, what: string): readonly Unsupported[] {
  return fits ? [] : [{ origin, what }];
}

function unsupportedCost(
  { name }: SiteBridgePort,
  device: SiteDevice,
  site: Site,
  origin: Origin | undefined,
): readonly Unsupported[] {
  if (origin === undefined || device.bridge === undefined) return [];
  const cost = highestCost(name, device, site);
  return cost <= HIGHEST_COST ? [] : [{ origin, what: `a path cost of ${cost} on \`${device.name}:${name}\`` }];
}
