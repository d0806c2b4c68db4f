/**
 * What devices accept however unwise: said, and simulated.
 */
import {
  type Address,
  addressKey,
  firstAddress,
  formatAddress,
  formatHardware,
  formatPrefix,
  isPublic,
  lastAddress,
  type Prefix,
  prefixesOverlap,
  prefixKeys,
  prefixOf,
} from "../address/index.ts";
import type { Located, NetworkEntry } from "../document/index.ts";
import { prefixesOf } from "./addresses.ts";
import type { Configured } from "./configured.ts";
import { type Directory, type Leg, legKey } from "./directory.ts";
import type { Findings } from "./findings.ts";
import type { Lender } from "./lenders.ts";
import { warnServedTwice } from "./served-twice.ts";
import type { SiteAddress } from "./site-stack.ts";
import { stationsNear } from "./stations-near.ts";

/** Notes everything unwise about a site. */
export function warn(directory: Directory, lenders: readonly Lender[], findings: Findings): void {
  warnVlans(directory, findings);
  warnPrefixes(directory, findings);
  warnAddresses(directory, findings);
  for (const network of directory.names.networks.keys()) warnHardware(network, directory, findings);
  for (const leg of directory.legs.values()) warnSpecial(leg, findings);
  for (const lender of lenders) warnPool(lender, directory, findings);
  for (const device of directory.wiring.devices.values()) warnSharedPorts(device, findings);
  warnServedTwice(directory.wiring.devices.values(), findings);
}

function warnVlans({ names }: Directory, findings: Findings): void {
  const taken = new Map<number, NetworkEntry>();
  for (const network of names.networks.values()) {
    const { vlan, name } = network;
    if (vlan === undefined) continue;
    const earlier = taken.get(vlan.value);
    if (earlier === undefined) taken.set(vlan.value, network);
    else {
      findings.report(
        "vlan-shared",
        vlan.span,
        `networks \`${earlier.name.value}\` and \`${name.value}\` both have VLAN ${vlan.value}`,
        {
          also: [{ span: earlier.vlan?.span ?? earlier.name.span, text: "the other one" }],
          notes: ["switches cannot tell them apart: they are one segment"],
        },
      );
    }
  }
}

/** Sorted by first address, an overlapping prefix follows the one that it overlaps with. */
function warnPrefixes({ names }: Directory, findings: Findings): void {
  const all = [...names.networks.values()].flatMap((network) =>
    prefixesOf(network).map((prefix) => ({ network, prefix })),
  );
  const ordered = all
    .map((entry) => ({ ...entry, keys: prefixKeys(entry.prefix.value) }))
    .sort((a, b) => compare(a.keys[0], b.keys[0]) || compare(b.keys[1], a.keys[1]));
  let widest: (typeof ordered)[number] | undefined;
  for (const entry of ordered) {
    const clash =
      widest !== undefined &&
      widest.network !== entry.network &&
      prefixesOverlap(widest.prefix.value, entry.prefix.value);
    if (clash && widest !== undefined) reportOverlap(entry, widest, findings);
    if (widest === undefined || entry.keys[1] > widest.keys[1]) widest = entry;
  }
}

function compare(a: bigint, b: bigint): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

type Owned = { readonly network: NetworkEntry; readonly prefix: Located<Prefix> };

function reportOverlap(one: Owned, other: Owned, findings: Findings): void {
  const names = `networks \`${other.network.name.value}\` and \`${one.network.name.value}\``;
  findings.report("prefix-shared", one.prefix.span, `${names} share addresses`, {
    label: formatPrefix(one.prefix.value),
    also: [{ span: other.prefix.span, text: formatPrefix(other.prefix.value) }],
  });
}

function warnAddresses({ legs }: Directory, findings: Findings): void {
  const taken = new Map<bigint, { readonly leg: Leg; readonly address: SiteAddress }>();
  for (const leg of legs.values()) {
    for (const address of leg.interface.addresses) {
      const key = addressKey(address);
      const earlier = taken.get(key);
      if (earlier === undefined) taken.set(key, { leg, address });
      else if (mayMeet(earlier.leg, leg) && !isServedTwice(earlier.leg, leg, address))
        reportShared(leg, address, earlier, findings);
    }
  }
}

/** Interfaces in different networks may use one address in peace, such as two rescue networks of the same make. */
function mayMeet(a: Leg, b: Leg): boolean {
  return a.networks.length === 0 || b.networks.length === 0 || a.networks.some((name) => b.networks.includes(name));
}

/** Public addresses of two upstreams are told of with their prefixes. */
function isServedTwice(a: Leg, b: Leg, address: Address): boolean {
  return isPublic(address) && a.device !== b.device && [a, b].every(({ device }) => isUpstream(device));
}

function isUpstream({ rack }: Configured): boolean {
  return rack.topology.is.value === "upstream";
}

function nameOf({ device, interface: one }: Leg): string {
  return `${device.rack.name}/${one.name}`;
}

function reportShared(
  leg: Leg,
  address: SiteAddress,
  earlier: { readonly leg: Leg; readonly address: SiteAddress },
  findings: Findings,
): void {
  const message = `\`${nameOf(earlier.leg)}\` and \`${nameOf(leg)}\` both have ${formatAddress(address)}`;
  findings.report("address-shared", address.origin.span, message, {
    also: [{ span: earlier.address.origin.span, text: `\`${nameOf(earlier.leg)}\`` }],
  });
}

/** Stations of one network; whatever stands on one port of a device shares its address in peace. */
function warnHardware(network: string, { extents, legs }: Directory, findings: Findings): void {
  const taken = new Map<bigint, Leg>();
  for (const { device, interface: name } of extents.get(network)?.interfaces ?? []) {
    const leg = legs.get(legKey(device, name));
    if (leg === undefined) continue;
    const { hardware } = leg.interface;
    const earlier = taken.get(hardware.value);
    if (earlier === undefined) taken.set(hardware.value, leg);
    else if (earlier.device !== leg.device) {
      const message = `\`${nameOf(earlier)}\` and \`${nameOf(leg)}\` both have ${formatHardware(hardware.value)} in \`${network}\``;
      findings.report("hardware-shared", hardware.origin.span, message, {
        also: [{ span: earlier.interface.hardware.origin.span, text: `\`${nameOf(earlier)}\`` }],
        help: "give one of them another `mac`",
        cause: `${nameOf(earlier)} ${nameOf(leg)}`,
      });
    }
  }
}

function warnSpecial(leg: Leg, findings: Findings): void {
  for (const address of leg.interface.addresses) {
    const which = specialOf(address);
    if (which === undefined) continue;
    const message = `${formatAddress(address)} of \`${nameOf(leg)}\` is the ${which} address of its prefix`;
    findings.report("address-special", address.origin.span, message, {
      notes: [`the prefix is ${formatPrefix(prefixOf(address, address.length))} (RFC 1812 section 4.2.3.1)`],
    });
  }
}

function specialOf(address: SiteAddress): "first" | "last" | undefined {
  if (address.family !== 4 || address.length > 30) return undefined;
  const prefix = prefixOf(address, address.length);
  if (address.value === firstAddress(prefix).value) return "first";
  return address.value === lastAddress(prefix).value ? "last" : undefined;
}

/** Own addresses of interfaces in the pool's network. */
function warnPool(lender: Lender, directory: Directory, findings: Findings): void {
  const { pool, entry } = lender;
  if (pool.length === 0) return;
  for (const leg of stationsNear(lender, directory)) {
    const covered = leg.interface.addresses.find((address) => covers(pool, address));
    const run = covered && pool.find(({ value }) => value.first <= covered.value && covered.value <= value.last);
    if (covered === undefined || run === undefined) continue;
    findings.report(
      "pool-covers-address",
      run.origin.span,
      `the pool of \`${entry.name.value}\` covers ${formatAddress(covered)}, the address of \`${nameOf(leg)}\``,
      {
        also: [{ span: covered.origin.span, text: "its address" }],
      },
    );
  }
}

function covers(pool: Lender["pool"], address: Address): boolean {
  return address.family === 4 && pool.some(({ value }) => value.first <= address.value && address.value <= value.last);
}

/** An interface that stands on a port which is switched, or off. */
function warnSharedPorts({ rack, switched, interfaces }: Configured, findings: Findings): void {
  for (const one of interfaces) {
    if (one.footing.on !== "port") continue;
    const { port } = one.footing;
    const span = switched.listed.get(port);
    if (span === undefined) continue;
    const off = switched.off.has(port);
    const heard =
      one.vlan === undefined
        ? "hears nothing, since the bridge takes every frame first"
        : `takes VLAN ${one.vlan.value} before the bridge does`;
    findings.report(
      "port-shared",
      one.origin.span,
      `\`${one.name}\` of \`${rack.name}\` stands on \`${port}\`, which is ${off ? "switched off" : "switched as well"}`,
      {
        also: [{ span, text: off ? "off" : "switched here" }],
        notes: [off ? "the interface has no link" : `the interface ${heard} (kernel fact 36)`],
      },
    );
  }
}
