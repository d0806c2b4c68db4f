/**
 * Lines for `ip` that give a device its addresses and routes. Connected routes come with the addresses, in the order of
 * the interfaces, so that of two legs in one subnet the first decides (kernel fact 10).
 */
import { type Address, formatAddress, formatPrefix } from "../address/index.ts";
import type { SiteDevice, SiteHop, SiteInterface, SiteRoute } from "../site/index.ts";
import type { DeviceNames } from "./names.ts";

/** IPv6 has no metric 0: the kernel would take 1024 for it, and gives connected routes 256. */
const IPV6_METRIC_BASE = 1024;

/** Addresses, for `ip -batch`. */
export function addressLines(device: SiteDevice, names: DeviceNames): readonly string[] {
  const own = device.interfaces.flatMap((entry) => addressesOf(entry, names.interfaces.get(entry.name)));
  return device.is === "upstream" ? [...own, ...EVERYTHING_BEYOND] : own;
}

/**
 * An upstream stands for the internet: it takes every address it has no better route for as its own. Of IPv6 that has to be in the
 * table where its other routes are, since a kernel asks the table of own addresses before that one.
 */
const EVERYTHING_BEYOND = ["route add local 0.0.0.0/0 dev lo", "route add local ::/0 dev lo table main"];

function addressesOf({ addresses, mtu }: SiteInterface, name: string | undefined): readonly string[] {
  if (name === undefined) return [];
  return [
    `link set dev ${name} mtu ${mtu.value}`,
    ...addresses.map(({ family, value, length }) => {
      const text = `addr add ${formatAddress({ family, value })}/${length} dev ${name}`;
      return family === 6 ? `${text} nodad` : text;
    }),
  ];
}

/** Routes, for `ip -force -batch`. */
export function routeLines(device: SiteDevice, names: DeviceNames): readonly string[] {
  return device.routes.map((route) => routeLine(route, names));
}

function routeLine({ to, metric, action, hops }: SiteRoute, names: DeviceNames): string {
  const rank = to.family === 6 ? IPV6_METRIC_BASE + metric : metric;
  const head = `route add ${action === "forward" ? "" : `${action} `}${formatPrefix(to)}`;
  const [only] = hops;
  if (only === undefined) return `${head} metric ${rank}`;
  if (hops.length === 1) return `${head} ${hopText(only, names)} metric ${rank}`;
  return `${head} metric ${rank} ${hops.map((hop) => `nexthop ${hopText(hop, names)}`).join(" ")}`;
}

function hopText(hop: SiteHop, names: DeviceNames): string {
  const dev = `dev ${names.interfaces.get(hop.interface)}`;
  return hop.via === undefined ? dev : `via ${viaText(hop.via)} ${dev}`;
}

function viaText(via: Address): string {
  return formatAddress(via);
}
