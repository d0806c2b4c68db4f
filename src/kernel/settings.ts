/**
 * Settings of a device's kernel, as files under `/proc/sys`. Besides what the site says they make a kernel answer as
 * quickly and as plainly as the facts were observed: no limits on ICMP errors, no redirects, no waiting for duplicate
 * IPv6 addresses, neighbours given up after three tries 70 ms apart, and never doubted once they are known.
 */
import type { Family } from "../address/index.ts";
import type { SiteDevice, SiteInterface } from "../site/index.ts";
import { acceptSettings } from "./advertising.ts";
import type { DeviceNames } from "./names.ts";

const REVERSE_PATH = { none: 0, strict: 1, loose: 2 } as const;

/** Milliseconds between questions for a neighbour, and how many are asked. */
const NEIGHBOUR_RETRY_MS = 70;
const NEIGHBOUR_TRIES = 3;
/** Else who is known and answers no questions is forgotten, sooner or later, as the machine is busy. */
const NEIGHBOUR_DOUBTED_AFTER_SECONDS = 3600;

/** Settings of one device before any cable is there. */
export function deviceSettings(device: SiteDevice): readonly string[] {
  const forwarding = device.forwarding.value ? 1 : 0;
  const reversePath = REVERSE_PATH[device.reversePath.value];
  const midStream = device.filter?.midStream?.value ?? "new";
  return [
    `net/ipv4/ip_forward = ${forwarding}`,
    `net/ipv6/conf/all/forwarding = ${forwarding}`,
    `net/ipv6/conf/default/forwarding = ${forwarding}`,
    // The kernel takes the larger of `all` and the interface's own; a new interface copies `default`.
    `net/ipv4/conf/all/rp_filter = ${reversePath}`,
    `net/ipv4/conf/default/rp_filter = ${reversePath}`,
    `net/ipv4/conf/all/arp_ignore = ${device.hostModel.value === "strong" ? 1 : 0}`,
    // Somebody beyond it sends from an address that is nobody's; of IPv4 the route to everything is enough for that.
    // And what comes from an address that it takes for its own is not believed otherwise.
    ...(device.is === "upstream" ? ["net/ipv6/ip_nonlocal_bind = 1", "net/ipv4/conf/all/accept_local = 1"] : []),
    `-net/netfilter/nf_conntrack_tcp_loose = ${midStream === "new" ? 1 : 0}`,
  ];
}

/** Settings of every device, after its own: switching forwarding gives others their defaults for a router or a host. */
export const COMMON_SETTINGS: readonly string[] = [
  "net/ipv4/icmp_ratelimit = 0",
  "net/ipv4/icmp_ratemask = 0",
  "-net/ipv4/icmp_msgs_per_sec = 1000000",
  "-net/ipv4/icmp_msgs_burst = 1000000",
  "net/ipv6/icmp/ratelimit = 0",
  // What is sent again a second later would be taken for a consequence of the next question.
  "net/ipv4/tcp_synack_retries = 0",
  ...["all", "default"].flatMap((scope) => [
    `net/ipv4/conf/${scope}/send_redirects = 0`,
    `net/ipv4/conf/${scope}/accept_redirects = 0`,
    `net/ipv4/conf/${scope}/arp_announce = 2`,
    `net/ipv6/conf/${scope}/accept_redirects = 0`,
    `net/ipv6/conf/${scope}/accept_ra = 0`,
    `net/ipv6/conf/${scope}/accept_dad = 0`,
  ]),
  // Where the machine lets bridges ask the rules of its stack, these do not: what is switched is not forwarded.
  "-net/bridge/bridge-nf-call-iptables = 0",
  "-net/bridge/bridge-nf-call-ip6tables = 0",
  "-net/bridge/bridge-nf-call-arptables = 0",
  // Only interfaces that speak IPv6 are told to, later; ports of a bridge never do.
  "net/ipv6/conf/default/disable_ipv6 = 1",
  "net/ipv6/conf/default/router_solicitations = 0",
  "net/ipv6/conf/lo/disable_ipv6 = 0",
];

/** Settings of single interfaces, once they are there. */
export function interfaceSettings(device: SiteDevice, names: DeviceNames): readonly string[] {
  return device.interfaces.flatMap((own) => {
    const name = names.interfaces.get(own.name);
    return name === undefined ? [] : [...settingsOf(own, name), ...acceptSettings(device, own, name)];
  });
}

function settingsOf({ speaks6 }: SiteInterface, name: string): readonly string[] {
  if (!speaks6.value) return neighbourSettings(4, name);
  return [
    ...neighbourSettings(4, name),
    ...neighbourSettings(6, name),
    // Else it waits up to 0.8 s before it answers for an anycast address (RFC 4861 section 7.2.7).
    `net/ipv6/neigh/${name}/proxy_delay = 0`,
    `net/ipv6/conf/${name}/disable_ipv6 = 0`,
  ];
}

function neighbourSettings(family: Family, name: string): readonly string[] {
  const folder = `net/ipv${family}/neigh/${name}`;
  return [
    `${folder}/retrans_time_ms = ${NEIGHBOUR_RETRY_MS}`,
    `${folder}/mcast_solicit = ${NEIGHBOUR_TRIES}`,
    `${folder}/delay_first_probe_time = ${NEIGHBOUR_DOUBTED_AFTER_SECONDS}`,
  ];
}
