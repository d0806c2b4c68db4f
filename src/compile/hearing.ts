/**
 * Multicast groups that an interface hears whatever its addresses are: all hosts, all nodes, and all routers of the link where its
 * device forwards or advertises on it (RFC 4861 section 6.2.2; a router joins when it is told to forward: seen on Linux 6.18). Those
 * of the site are a matter of the profile; no packet to those of an interface gets onto a link (RFC 4291 section 2.7). Who delegates
 * prefixes hears what is sent to all DHCP servers of the link (RFC 8415 section 7.1).
 */
import { addressKey, type Ranges, ranges, single } from "../address/index.ts";
import type { SiteDevice, SiteInterface } from "../site/index.ts";
import { profileOf } from "./plant.ts";

const ALL_HOSTS = single(0xe0000001n); // 224.0.0.1, RFC 1112 section 4, from memory
const LINK_GROUPS = 0xff02n << 112n;
const ALL_NODES = addressKey({ family: 6, value: LINK_GROUPS | 1n }); // RFC 4291 section 2.7.1
const ALL_ROUTERS = addressKey({ family: 6, value: LINK_GROUPS | 2n });
const DHCP_SERVERS = addressKey({ family: 6, value: LINK_GROUPS | 0x1_0002n });
const SITE_ROUTERS = addressKey({ family: 6, value: (0xff05n << 112n) | 2n });

/** Keys of the groups that an interface of a device joined by itself. */
export function heardOn(device: SiteDevice, { name, speaks6 }: SiteInterface): Ranges {
  if (!speaks6.value) return ALL_HOSTS;
  const site = device.forwarding.value && profileOf(device).hearsSiteRouters.value ? [SITE_ROUTERS] : [];
  const servers = delegatesOn(device, name) ? [DHCP_SERVERS] : [];
  const six = isRouterOn(device, name) ? [ALL_NODES, ALL_ROUTERS, ...servers, ...site] : [ALL_NODES];
  return ranges(...ALL_HOSTS, ...six.map((key) => [key, key] as const));
}

function delegatesOn({ handsOut }: SiteDevice, name: string): boolean {
  return handsOut.some(({ port, delegates }) => port === name && delegates);
}

function isRouterOn(device: SiteDevice, name: string): boolean {
  const advertises = device.advertise.some((told) => told.interface === name);
  const hands = device.handsOut.some(({ port, ipv6 }) => port === name && ipv6 !== undefined);
  return device.forwarding.value || advertises || hands;
}
