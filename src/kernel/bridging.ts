/**
 * Bridges without tags: a switch that obeys VLANs, but has every port in one VLAN untagged, is the same as one plain
 * bridge for each VLAN; a switch that ignores tags is one plain bridge. Whatever else a bridge does with tags is not
 * supported here. A spanning tree on a bridge that lies on no loop forwards everywhere, so it is left out.
 */
import type { Setting, Site, SiteBridge, SiteBridgePort, SiteDevice, SiteInterface } from "../site/index.ts";
import type { Unsupported } from "./plan.ts";

/** One plain bridge of a device. */
export type Domain = {
  /** Its VLAN; absent: all of a bridge that ignores tags, or `dead`. */
  readonly vlan?: number;
  /** True for the bridge without ports under interfaces that the device's own membership leaves out. */
  readonly dead: boolean;
  /** Names of its ports. */
  readonly ports: readonly SiteBridgePort[];
  /** Names of the device's interfaces that stand on it; the kernel's bridge bears their addresses. */
  readonly interfaces: readonly string[];
  /** Hardware address. */
  readonly hardware: bigint;
};

/** The plain bridges of a device; none where it does not switch. */
export function domainsOf(device: SiteDevice): readonly Domain[] {
  const { bridge } = device;
  if (bridge === undefined) return [];
  const own = device.interfaces.filter(({ footing }) => footing.on === "bridge");
  if (bridge.tags.value === "ignored") return [domain(bridge, undefined, bridge.ports, own)];
  const vlans = new Set([...bridge.ports.flatMap(accessVlan), ...own.flatMap((entry) => ownVlan(entry, bridge))]);
  const live = [...vlans].map((vlan) => {
    const ports = bridge.ports.filter((port) => accessVlan(port).includes(vlan));
    return domain(
      bridge,
      vlan,
      ports,
      own.filter((entry) => ownVlan(entry, bridge).includes(vlan)),
    );
  });
  const dead = own.filter((entry) => ownVlan(entry, bridge).length === 0);
  return dead.length === 0 ? live : [...live, { ...domain(bridge, undefined, [], dead), dead: true }];
}

function domain(
  bridge: SiteBridge,
  vlan: number | undefined,
  ports: readonly SiteBridgePort[],
  own: readonly SiteInterface[],
): Domain {
  const hardware = own[0]?.hardware.value ?? bridge.hardware.value;
  const interfaces = own.map(({ name }) => name);
  return vlan === undefined
    ? { dead: false, ports, interfaces, hardware }
    : { vlan, dead: false, ports, interfaces, hardware };
}

/** The VLAN that untagged frames of a port enter and that leaves it untagged, as a list of none or one. */
function accessVlan({ membership }: SiteBridgePort): readonly number[] {
  const vlan = membership.portVlan.value;
  if (vlan === "refused" || membership.admit.value === "tagged") return [];
  return membership.members.some(({ first, last, leaves }) => leaves === "untagged" && first <= vlan && vlan <= last)
    ? [vlan]
    : [];
}

/** The VLAN that an interface on the bridge stands in, when the device itself is a member of it. */
function ownVlan({ vlan }: SiteInterface, { own }: SiteBridge): readonly number[] {
  const wanted = vlan?.value ?? (own?.portVlan.value === "refused" ? undefined : own?.portVlan.value);
  if (wanted === undefined) return [];
  const leaves = vlan === undefined ? "untagged" : "tagged";
  const member = own?.members.find(({ first, last }) => first <= wanted && wanted <= last);
  return member?.leaves === leaves ? [wanted] : [];
}

/** What of a device's bridge needs tags. */
export function unsupportedBridging(device: SiteDevice, site: Site): readonly Unsupported[] {
  const { bridge } = device;
  if (bridge === undefined || bridge.tags.value === "ignored") return [];
  const cabled = new Set(
    site.cables.flatMap(({ ends }) => ends.filter((end) => end.device === device.name).map(({ port }) => port)),
  );
  return bridge.ports.filter(({ name }) => cabled.has(name)).flatMap((port) => unsupportedPort(device, port));
}

function unsupportedPort(device: SiteDevice, port: SiteBridgePort): readonly Unsupported[] {
  const { portVlan, members, admit, leasesTrusted } = port.membership;
  const place = `\`${device.name}:${port.name}\``;
  if (!leasesTrusted.value)
    return [{ origin: leasesTrusted.origin, what: `a port that answers of DHCP servers may not enter by, ${place}` }];
  const tagged = members.find(({ leaves }) => leaves === "tagged");
  if (tagged !== undefined) return [{ origin: tagged.origin, what: `tagged frames on ${place}` }];
  const spread = members.find(({ first, last }) => first !== last || first !== portVlan.value);
  if (spread !== undefined) return [{ origin: spread.origin, what: `another VLAN than the port VLAN on ${place}` }];
  if (members.length === 0 && isNumber(portVlan)) {
    return [{ origin: portVlan.origin, what: `a port VLAN that never leaves ${place}` }];
  }
  return admit.value === "tagged" ? [{ origin: admit.origin, what: `a port for tagged frames only, ${place}` }] : [];
}

function isNumber(setting: Setting<number | "refused">): boolean {
  return setting.value !== "refused";
}
