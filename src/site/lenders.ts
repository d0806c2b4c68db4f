/**
 * Who lends which addresses: DHCP servers and upstreams, with their pools and reservations, before names in their
 * options are resolved.
 */
import {
  type Address,
  formatAddress,
  formatPrefix,
  hostAddress,
  type Prefix,
  prefixContains,
  prefixOf,
} from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import type { AddressRange, DhcpServer, HandsOut, List, Located, NumberRange } from "../document/index.ts";
import { prefixesOf } from "./addresses.ts";
import type { Configured } from "./configured.ts";
import type { Findings } from "./findings.ts";
import type { RackInterface } from "./interfaces.ts";
import { fits } from "./kinds.ts";
import type { Names } from "./names.ts";
import { type Setting, settingOf, writtenAt } from "./setting.ts";
import type { SiteHandsOut } from "./site-service.ts";

/** Runs of IPv4 addresses. */
export type Pool = SiteHandsOut["pool"];

/** A DHCP server's place and pool. */
export type Lender = {
  /** Its device. */
  readonly device: Configured;
  /** Its entry. */
  readonly entry: DhcpServer;
  /** Interface whose clients it serves directly; absent: only what relays bring. */
  readonly interface?: RackInterface;
  /** The network that it serves; absent where its interface is in none. */
  readonly network?: string;
  /** What it hands out addresses of. */
  readonly subnet: Setting<Prefix>;
  /** Addresses to lend. */
  readonly pool: Pool;
};

/** The DHCP servers of a device. */
export function resolveLenders(device: Configured, names: Names, findings: Findings): readonly Lender[] {
  const { rack, interfaces } = device;
  const written = fits("dhcp", rack.topology.is.value) ? (rack.intent?.dhcp?.value ?? []) : [];
  return written.flatMap((entry) => {
    const { value, span } = entry.name;
    const one = interfaces.find(({ name }) => name === value);
    if (one !== undefined) return onInterface(device, entry, one, names, findings);
    if (names.networks.has(value)) return relayed(device, entry, names, findings);
    // An entry that was left out after a diagnostic of its own is not reported again.
    if (isWritten(device, value)) return [];
    const candidates = [...interfaces.map(({ name }) => name), ...names.networks.keys()];
    findings.unknown({ kind: "interface", of: rack.name, name: value, span, candidates });
    return [];
  });
}

/** Whether the intent has an interface of this name, resolved or not. */
export function isWritten({ rack }: Configured, name: string): boolean {
  const entries = [...(rack.intent?.interfaces?.value ?? []), ...(rack.intent?.legs?.value ?? [])];
  return entries.some((entry) => entry.name.value === name);
}

function onInterface(
  device: Configured,
  entry: DhcpServer,
  one: RackInterface,
  names: Names,
  findings: Findings,
): readonly Lender[] {
  const own = one.addresses.find(({ family }) => family === 4);
  if (own === undefined) {
    const message = `\`${device.rack.name}/${one.name}\` has no IPv4 address of its own to serve leases from`;
    findings.report("no-address", entry.name.span, message, {
      also: [{ span: one.origin.span, text: "the interface" }],
      about: [device.rack.name, ...(one.network === undefined ? [] : [one.network.value])],
    });
    return [];
  }
  const network = one.network && names.networks.get(one.network.value);
  const declared = network && prefixesOf(network).find(({ value }) => prefixContains(value, own));
  const subnet: Setting<Prefix> =
    declared === undefined
      ? { value: prefixOf({ family: 4, value: own.value }, own.length), origin: own.origin }
      : settingOf(declared);
  const pool = [...hostRuns(entry.hosts, subnet, findings), ...addressRuns(entry.addresses, subnet, findings)];
  return [{ device, entry, interface: one, ...(one.network && { network: one.network.value }), subnet, pool }];
}

function relayed(device: Configured, entry: DhcpServer, names: Names, findings: Findings): readonly Lender[] {
  const { value: name, span } = entry.name;
  const network = names.networks.get(name);
  const prefix = network && prefixesOf(network).find(({ value }) => value.family === 4);
  if (prefix === undefined) {
    findings.report("no-address", span, `network \`${name}\` has no IPv4 prefix to lend addresses of`, {
      also: network === undefined ? [] : [{ span: network.name.span, text: "the network" }],
      about: [name],
    });
    return [];
  }
  const subnet = settingOf(prefix);
  const pool = [...hostRuns(entry.hosts, subnet, findings), ...addressRuns(entry.addresses, subnet, findings)];
  return [{ device, entry, network: name, subnet, pool }];
}

/** Host numbers as runs of addresses; those outside the prefix are reported. */
function hostRuns(hosts: List<NumberRange> | undefined, subnet: Setting<Prefix>, findings: Findings): Pool {
  return (hosts?.value ?? []).flatMap(({ value, span }) => {
    const first = hostAddress(subnet.value, BigInt(value.first));
    const last = hostAddress(subnet.value, BigInt(value.last));
    if (first !== undefined && last !== undefined) {
      return [{ value: { first: first.value, last: last.value }, origin: writtenAt(span) }];
    }
    const wrong = first === undefined ? value.first : value.last;
    reportOutside(`host number ${wrong}`, span, subnet, findings);
    return [];
  });
}

function addressRuns(written: List<AddressRange> | undefined, subnet: Setting<Prefix>, findings: Findings): Pool {
  return (written?.value ?? []).flatMap(({ value, span }) => {
    const { family, first, last } = value;
    const ends: readonly Address[] = [first, last].map((end) => ({ family, value: end }));
    const wrong = ends.find((end) => !prefixContains(subnet.value, end));
    if (wrong === undefined) return [{ value: { first, last }, origin: writtenAt(span) }];
    reportOutside(`\`${formatAddress(wrong)}\``, span, subnet, findings);
    return [];
  });
}

/** Something that should lie in a prefix and does not. */
export function reportOutside(what: string, span: Span, subnet: Setting<Prefix>, findings: Findings): void {
  findings.report("address-outside", span, `${what} lies outside of \`${formatPrefix(subnet.value)}\``, {
    also: [{ span: subnet.origin.span, text: "the prefix" }],
  });
}

/** The pool of what an upstream hands out. */
export function handedPool({ ipv4, hosts }: HandsOut, findings: Findings): Pool {
  if (ipv4 === undefined) return [];
  return hostRuns(hosts, { value: prefixValue(ipv4), origin: writtenAt(ipv4.span) }, findings);
}

function prefixValue({ value: { family, value, length } }: Located<Prefix>): Prefix {
  return { family, value, length };
}
