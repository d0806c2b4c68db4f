/**
 * Which networks an end of a wire carries: read off the memberships of bridge ports and the networks of interfaces. What a
 * VLAN of a bridge belongs to is told by the extent of each network.
 */
import type { PictureThread } from "../result/index.ts";
import type { Site, SiteDevice, SiteMembership, SiteNetwork } from "../site/index.ts";

/** What an end carries. */
export type Carried = {
  /** Whether each network is tagged there, by name. */
  readonly networks: ReadonlyMap<string, boolean>;
  /** True for a bridge port that tags some of them: a trunk. */
  readonly trunk: boolean;
};

const NOTHING: Carried = { networks: new Map(), trunk: false };

/** What a port or bond of a device carries, by its own name. */
export function carriedAt(site: Site, device: SiteDevice, name: string): Carried {
  const membership = device.bridge?.ports.find((port) => port.name === name)?.membership;
  const bridged = membership === undefined ? NOTHING : carriedByBridge(site, device, membership);
  const networks = new Map(bridged.networks);
  for (const { footing, vlan, networks: named } of device.interfaces) {
    if (footing.on === "bridge" || footing.port !== name) continue;
    for (const network of named) networks.set(network, vlan !== undefined);
  }
  return { networks, trunk: bridged.trunk };
}

/** What clients of a radio network are put on. */
export function carriedBySsid(site: Site, device: SiteDevice, ssid: string): Carried {
  const vlan = device.ssids.find(({ name }) => name === ssid)?.vlan.value;
  const networks = site.networks.filter((network) =>
    domainsIn(network, device).some((domain) => domain === vlan || domain === undefined),
  );
  return { networks: new Map(networks.map(({ name }) => [name, false])), trunk: false };
}

function carriedByBridge(site: Site, device: SiteDevice, membership: SiteMembership): Carried {
  const networks = new Map<string, boolean>();
  for (const network of site.networks) {
    const leaves = domainsIn(network, device).flatMap((vlan) => leavesAs(membership, vlan));
    if (leaves.length > 0) networks.set(network.name, leaves.includes("tagged"));
  }
  return { networks, trunk: [...networks.values()].includes(true) };
}

/** VLANs of a device's bridge that belong to a network; undefined: the whole bridge, which ignores tags. */
function domainsIn({ extent }: SiteNetwork, { name }: SiteDevice): readonly (number | undefined)[] {
  return extent.domains.flatMap(({ device, vlan }) => (device === name ? [vlan] : []));
}

function leavesAs({ members }: SiteMembership, vlan: number | undefined): readonly ("tagged" | "untagged")[] {
  if (vlan === undefined) return ["untagged"];
  return members.flatMap(({ first, last, leaves }) => (first <= vlan && vlan <= last ? [leaves] : []));
}

/** Networks of a site that reach a device, by name, in document order. */
export function networksAt(site: Site, device: string): readonly string[] {
  return site.networks.flatMap(({ name, extent }) =>
    [...extent.domains, ...extent.interfaces].some((place) => place.device === device) ? [name] : [],
  );
}

/** The networks of a wire, one thread each. A trunk lacks a network that both its devices switch, where neither end carries it. */
export function threadsBetween(
  site: Site,
  ends: readonly [SiteDevice, SiteDevice],
  carried: readonly [Carried, Carried],
): readonly PictureThread[] {
  const [first, second] = carried;
  const isTrunk = first.trunk || second.trunk;
  return site.networks.flatMap((network): readonly PictureThread[] => {
    const { name } = network;
    const tagged = first.networks.get(name) === true || second.networks.get(name) === true;
    const [one, other] = [first.networks.has(name), second.networks.has(name)];
    if (one || other) return [{ network: name, carriedBy: one && other ? "both" : one ? "first" : "second", tagged }];
    const lacks = isTrunk && ends.every((device) => domainsIn(network, device).length > 0);
    return lacks ? [{ network: name, carriedBy: "neither", tagged: false }] : [];
  });
}
