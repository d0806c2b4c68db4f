/**
 * Default routes of one device that rank the same: which of them is taken, nothing that is written decides. Routes that are
 * written come before leased ones here, and leases in the order of the interfaces, as `settle/bindings.ts` puts them in.
 */
import { type Address, formatAddress, formatPrefix, type Prefix } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import { prefixesOf } from "./addresses.ts";
import { type Directory, legKey } from "./directory.ts";
import type { Findings } from "./findings.ts";
import type { SiteDevice } from "./site-device.ts";
import type { SiteInterface, SiteRoute } from "./site-stack.ts";

/** A route to everything. */
type Default = {
  readonly family: 4 | 6;
  readonly metric: number;
  /** The interface it leaves by. */
  readonly by: string;
  /** Next hop; absent: whoever is at the other end of a session. */
  readonly via?: Address;
  /** Its line. */
  readonly span: Span;
  /** What brings it. */
  readonly from: "lease" | "gateway" | "route";
  /** Its interface is told IPv6 routers, too, which `gateway: none` would leave out. */
  readonly learns6: boolean;
};

/** Warns of each default route that ranks with an earlier one of its device by another interface. */
export function warnEqualDefaults(devices: readonly SiteDevice[], directory: Directory, findings: Findings): void {
  for (const device of devices) {
    if (device.is === "upstream") continue;
    const defaults = [...writtenDefaults(device), ...leasedDefaults(device, devices, directory)];
    for (const [index, one] of defaults.entries()) {
      const first = defaults
        .slice(0, index)
        .find((other) => other.family === one.family && other.metric === one.metric);
      if (first !== undefined && isOtherWay(first, one)) reportEqual(device.name, one, first, findings);
    }
  }
}

/** By two interfaces to one router it is the same way out. */
function isOtherWay(one: Default, other: Default): boolean {
  return one.by !== other.by && (one.via === undefined || one.via.value !== other.via?.value);
}

function writtenDefaults({ routes, interfaces }: SiteDevice): readonly Default[] {
  const gateways = new Set(interfaces.flatMap((one) => one.gateways?.value.map(({ origin }) => origin.span) ?? []));
  const learning = new Set(interfaces.filter(learns6).map(({ name }) => name));
  return routes.flatMap(({ to, metric, hops: [hop], origin: { span } }: SiteRoute): Default[] => {
    if (to.length > 0 || hop === undefined) return [];
    const from = gateways.has(span) ? "gateway" : "route";
    const { interface: by, via } = hop;
    return [
      { family: to.family, metric, by, span, from, learns6: learning.has(by), ...(via === undefined ? {} : { via }) },
    ];
  });
}

/** Of interfaces that take the router that a lease names, where a server of the site is known to name one there. */
function leasedDefaults(device: SiteDevice, devices: readonly SiteDevice[], directory: Directory): readonly Default[] {
  return device.interfaces.flatMap((one): Default[] => {
    if (one.lease === undefined || one.gateways !== undefined) return [];
    const told = {
      family: 4,
      metric: 0,
      by: one.name,
      span: one.lease.span,
      from: "lease",
      learns6: learns6(one),
    } as const;
    const [router] = routersTold(device, one, devices, directory);
    if (router === undefined) return [];
    return [one.session === undefined ? { ...told, via: { family: 4, value: router } } : told];
  });
}

/** Routers that leases of an interface name: of a lease with routes it is the one among these (RFC 3442). */
function routersTold(
  { name }: SiteDevice,
  one: SiteInterface,
  devices: readonly SiteDevice[],
  { legs, names }: Directory,
): readonly bigint[] {
  const own = one.networks.flatMap((network) => {
    const entry = names.networks.get(network);
    return entry === undefined ? [] : prefixesOf(entry).map(({ value }) => value);
  });
  const handed = legs.get(legKey(name, one.name))?.handed ?? [];
  const near = new Set([...own, ...handed].map(formatPrefix));
  const isNear = (prefix: Prefix | undefined): boolean => prefix !== undefined && near.has(formatPrefix(prefix));
  return devices
    .filter((other) => other.name !== name)
    .flatMap(({ handsOut, dhcp }) => [
      ...handsOut.flatMap(({ ipv4, router, pool }) =>
        pool.length > 0 && isNear(ipv4?.value) ? (router?.value ?? []) : [],
      ),
      ...dhcp.flatMap(({ subnet, routes, routers }) => {
        if (!isNear(subnet.value)) return [];
        if (routes.length === 0) return routers.value[0]?.value ?? [];
        return routes.find(({ value }) => value.to.length === 0)?.value.via ?? [];
      }),
    ]);
}

function learns6({ advertised, delegation }: SiteInterface): boolean {
  return advertised !== undefined || delegation !== undefined;
}

function reportEqual(device: string, one: Default, first: Default, findings: Findings): void {
  const message = `\`${device}\` has two default routes of one rank, by \`${first.by}\` and by \`${one.by}\``;
  const why = first.from !== "lease" && one.from === "lease" ? "what is written goes first" : "its line comes first";
  findings.report("equal-defaults", one.span, message, {
    also: [{ span: first.span, text: `taken here, since ${why}` }],
    notes: ["in life it is the one that came first, or last: nothing that is written decides it"],
    help:
      one.learns6 && first.from === "lease" && !first.learns6
        ? helpFor(device, first, one)
        : helpFor(device, one, first),
    about: [device],
  });
}

/** What makes one of them the second. */
function helpFor(device: string, { by, via, from, learns6: loses6 }: Default, first: Default): string {
  const end = `so that \`${first.by}\` goes first${loses6 ? "; `none` leaves out its IPv6 router, too" : ""}`;
  if (from === "route") return `give it a \`metric\`, such as 100, ${end}`;
  const hop = via === undefined ? `out: ${by}` : `via: ${formatAddress(via)}`;
  const route = `\`routes: [{ to: default, ${hop}, metric: 100 }]\` at \`${device}\``;
  return `write \`gateway: none\` at \`${by}\` and ${route}, ${end}`;
}
