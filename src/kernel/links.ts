/**
 * Lines for `ip` that make a device's links: bridges with their ports, and what is up. A port that is switched off stays
 * down, so that the other end of its cable has no carrier.
 */
import { formatHardware } from "../address/index.ts";
import type { SiteDevice } from "../site/index.ts";
import type { Domain } from "./bridging.ts";
import type { DeviceNames } from "./names.ts";

/** Bridges with their ports, for `ip -batch`; `present`: names of the ports that have a cable, a loose one included. */
export function bridgeLines(names: DeviceNames, present: ReadonlySet<string>): readonly string[] {
  return [...names.domains].flatMap(([domain, name]) => domainLines(domain, name, names.ports, present));
}

/** Every link that is up, for `ip -batch`. */
export function linkLines(device: SiteDevice, names: DeviceNames, present: ReadonlySet<string>): readonly string[] {
  return ["lo", ...upPorts(device, names, present)].map((name) => `link set dev ${name} up`);
}

/** Names of the kernel's interfaces that are switched on. */
export function upNames(device: SiteDevice, names: DeviceNames, present: ReadonlySet<string>): ReadonlySet<string> {
  return new Set([...names.domains.values(), ...upPorts(device, names, present)]);
}

function upPorts(device: SiteDevice, names: DeviceNames, present: ReadonlySet<string>): readonly string[] {
  return device.ports
    .filter((port) => port.enabled.value && present.has(port.name))
    .flatMap((port) => names.ports.get(port.name) ?? []);
}

function domainLines(
  domain: Domain,
  name: string,
  ports: ReadonlyMap<string, string>,
  present: ReadonlySet<string>,
): readonly string[] {
  const plugged = domain.ports.filter((port) => present.has(port.name));
  return [
    `link add name ${name} address ${formatHardware(domain.hardware)} type bridge stp_state 0 mcast_snooping 0`,
    ...plugged.map((port) => `link set dev ${ports.get(port.name)} master ${name}`),
    ...plugged
      .filter((port) => port.membership.isolated.value)
      .map((port) => `link set dev ${ports.get(port.name)} type bridge_slave isolated on`),
    // A device that is no member of its own bridge there hears nothing of it: see also `ruleset.ts`.
    `link set dev ${name} arp ${domain.interfaces.length > 0 ? "on" : "off"} up`,
  ];
}
