/**
 * Names in the kernel: at most 15 bytes, no slash, unique in a device. A port keeps its name where it may.
 */
import type { SiteDevice, SiteInterface } from "../site/index.ts";
import type { Domain } from "./bridging.ts";

/** Longest name of an interface in bytes (IFNAMSIZ less the closing zero). */
const LONGEST = 15;
/** Words with a meaning of their own among interfaces or settings. */
export const RESERVED: readonly string[] = ["lo", "all", "default", ".", ".."];

/** Names of the kernel's interfaces of one device. */
export type DeviceNames = {
  /** By port name. */
  readonly ports: ReadonlyMap<string, string>;
  /** Of each bridging domain of the device. */
  readonly domains: ReadonlyMap<Domain, string>;
  /** By name of the site's interface. */
  readonly interfaces: ReadonlyMap<string, string>;
  /** Interfaces of the kernel that carry others and bear no interface of the site: they hear nothing themselves. */
  readonly mute: readonly string[];
};

/** Names everything of a device. */
export function nameDevice(device: SiteDevice, domains: readonly Domain[]): DeviceNames {
  const taken = new Set(RESERVED);
  const ports = portNames(device, taken);
  const named = new Map(domains.map((domain) => [domain, claimName(bridgeName(domain), "bridge", taken)]));
  const interfaces = device.interfaces.flatMap((own): [string, string][] => {
    const name = standsOn(own, ports, named);
    return name === undefined ? [] : [[own.name, name]];
  });
  const mute = [...named].filter(([domain]) => domain.interfaces.length === 0).map(([, name]) => name);
  return { ports, domains: named, interfaces: new Map(interfaces), mute };
}

/** Names of a device's ports. */
export function portNames(device: SiteDevice, taken: Set<string>): ReadonlyMap<string, string> {
  return new Map(device.ports.map(({ name }, index) => [name, claimName(name, `port${index + 1}`, taken)]));
}

function bridgeName({ vlan, dead }: Domain): string {
  if (dead) return "nowhere";
  return vlan === undefined ? "bridge" : `vlan${vlan}`;
}

/** A name that fits and is not taken yet. */
export function claimName(wanted: string, otherwise: string, taken: Set<string>): string {
  const fits = /^[A-Za-z0-9._-]+$/.test(wanted) && wanted.length <= LONGEST;
  let name = fits ? wanted : otherwise;
  for (let count = 2; taken.has(name); count++) name = `${(fits ? wanted : otherwise).slice(0, 11)}-${count}`;
  taken.add(name);
  return name;
}

function standsOn(
  { footing, name }: SiteInterface,
  ports: ReadonlyMap<string, string>,
  domains: ReadonlyMap<Domain, string>,
): string | undefined {
  if (footing.on === "port") return ports.get(footing.port);
  return [...domains].find(([domain]) => domain.interfaces.includes(name))?.[1];
}
