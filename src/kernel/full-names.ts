/**
 * Names on a kernel that knows tags, bonds and spanning tree: beside a device's ports one interface for each bond and tunnel, one for
 * the bridge, and one for each interface whose frames are tagged.
 */
import type { SiteDevice, SiteInterface } from "../site/index.ts";
import { claimName, type DeviceNames, portNames, RESERVED } from "./names.ts";

/** An interface of the kernel whose frames are tagged. */
export type TaggedLink = {
  /** Its name. */
  readonly name: string;
  /** The port, bond or bridge below it. */
  readonly parent: string;
  /** Its VLAN. */
  readonly vlan: number;
  /** The site's interface. */
  readonly own: SiteInterface;
};

/** Names of a device. */
export type FullNames = DeviceNames & {
  /** By bond name. */
  readonly bonds: ReadonlyMap<string, string>;
  /** Of the bridge, where the device switches. */
  readonly bridge: string | undefined;
  /** By tunnel name, of those that an interface stands on. */
  readonly tunnels: ReadonlyMap<string, string>;
  /** In document order. */
  readonly tagged: readonly TaggedLink[];
};

/** Names everything of a device. */
export function nameFully(device: SiteDevice): FullNames {
  const taken = new Set(RESERVED);
  const ports = portNames(device, taken);
  const bonds = new Map(
    device.bonds.map(({ name }, index) => [name, claimName(name, `bond${index + 1}`, taken)] as const),
  );
  const bridge = device.bridge === undefined ? undefined : claimName("bridge", "bridge", taken);
  const standing = new Set(device.interfaces.flatMap(({ footing }) => (footing.on === "tunnel" ? [footing.port] : [])));
  const tunnels = new Map(
    device.tunnels
      .filter(({ name }) => standing.has(name))
      .map(({ name }, index) => [name, claimName(name, `tunnel${index + 1}`, taken)] as const),
  );
  const below = ({ footing }: SiteInterface): string | undefined =>
    footing.on === "bridge"
      ? bridge
      : (bonds.get(footing.port) ?? tunnels.get(footing.port) ?? ports.get(footing.port));
  const tagged = device.interfaces.flatMap((own): TaggedLink[] => {
    const parent = below(own);
    if (own.vlan === undefined || parent === undefined) return [];
    const { value: vlan } = own.vlan;
    return [{ name: claimName(`${parent}.${vlan}`, `vlan${vlan}`, taken), parent, vlan, own }];
  });
  const interfaces = new Map(
    device.interfaces.flatMap((own): [string, string][] => {
      const name = own.vlan === undefined ? below(own) : tagged.find((link) => link.own === own)?.name;
      return name === undefined ? [] : [[own.name, name]];
    }),
  );
  const speaking = new Set(interfaces.values());
  const carrying = [...(bridge === undefined ? [] : [bridge]), ...tagged.map(({ parent }) => parent)];
  const mute = [...new Set(carrying)].filter((name) => !speaking.has(name));
  return { ports, bonds, bridge, tunnels, tagged, interfaces, mute, domains: new Map() };
}
