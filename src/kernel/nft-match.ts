/**
 * What a rule asks of a packet, in nft's words. One rule of the site becomes a run of rules, one for each combination of
 * IP version and service, which are tried one after the other; first match stays final.
 */
import {
  type Address,
  FAMILY_KEYS,
  type Family,
  formatAddress,
  formatHardware,
  intersectRanges,
  keyAddress,
  type Ranges,
  type Service,
  unionRanges,
} from "../address/index.ts";
import type { Setting, SiteList, SiteMatch, SiteRule, SiteTarget } from "../site/index.ts";
import type { DeviceNames } from "./names.ts";

/** One alternative of a rule's match. */
export type NftMatch = {
  /** Expressions in front of the verdict; empty: every packet. */
  readonly text: string;
  /** The version of IP it is limited to; absent: both. */
  readonly family?: Family;
  /** The one protocol it is limited to; absent: several. */
  readonly protocol?: number;
};

const TCP = 6;
const UDP = 17;
const SCTP = 132;
const ICMP_PROTOCOL: Readonly<Record<number, Family>> = { 1: 4, 58: 6 };

/** All alternatives; none: the rule matches nothing (an empty list, or IP versions that exclude each other). */
export function matchesOf(rule: SiteMatch | SiteRule, names: DeviceNames): readonly NftMatch[] {
  if (nothingListed(rule)) return [];
  const common = [
    ...interfaceText("iifname", rule.ingress, names),
    ...interfaceText("oifname", rule.egress, names),
    ...("states" in rule ? stateText(rule) : []),
    ...("sourceHardware" in rule ? hardwareText(rule) : []),
  ];
  return familiesOf(rule).flatMap((family) =>
    servicesOf(rule).flatMap((service) => alternative(rule, common, family, service)),
  );
}

/** A written list with nothing in it matches nothing. */
function nothingListed(rule: SiteMatch | SiteRule): boolean {
  const lists = [rule.ingress, rule.egress, rule.source, rule.dest, rule.services, rule.sourcePorts];
  const more = [...("states" in rule ? [rule.states] : []), ...("sourceHardware" in rule ? [rule.sourceHardware] : [])];
  return [...lists, ...more].some((list) => list?.value.length === 0);
}

/** `undefined` stands for both versions at once, where no address and no service tells them apart. */
function familiesOf(rule: SiteMatch): readonly (Family | undefined)[] {
  if (rule.family !== undefined) return [rule.family.value];
  return rule.source === undefined && rule.dest === undefined ? [undefined] : [4, 6];
}

function servicesOf({ services }: SiteMatch): readonly (Service | undefined)[] {
  return services === undefined ? [undefined] : services.value.map(({ value }) => value);
}

function alternative(
  rule: SiteMatch,
  common: readonly string[],
  wanted: Family | undefined,
  service: Service | undefined,
): readonly NftMatch[] {
  const protocolFamily = service?.protocol === undefined ? undefined : ICMP_PROTOCOL[service.protocol];
  if (wanted !== undefined && protocolFamily !== undefined && protocolFamily !== wanted) return [];
  // Where there are no ports, nft would compare what stands in their place.
  const hasPorts = [undefined, TCP, UDP, SCTP].includes(service?.protocol);
  if (rule.sourcePorts !== undefined && !hasPorts) return [];
  const family = wanted ?? protocolFamily;
  const source = addressText("saddr", rule.source, family);
  const dest = addressText("daddr", rule.dest, family);
  if (source === "never" || dest === "never") return [];
  const head = family === undefined ? [] : [`meta nfproto ipv${family}`];
  const text = [...head, ...common, ...source, ...dest, ...serviceText(service, rule.sourcePorts !== undefined)];
  return [
    {
      text: [...text, ...portText(rule)].join(" "),
      ...(family === undefined ? {} : { family }),
      ...(service?.protocol === undefined ? {} : { protocol: service.protocol }),
    },
  ];
}

function interfaceText(
  expression: "iifname" | "oifname",
  list: SiteList<string> | undefined,
  names: DeviceNames,
): readonly string[] {
  if (list === undefined) return [];
  const known = list.value.flatMap(({ value }) => names.interfaces.get(value) ?? []);
  return [`${expression} ${setOf(known.map((name) => `"${name}"`))}`];
}

function stateText({ states }: SiteRule): readonly string[] {
  return states === undefined ? [] : [`ct state ${setOf(states.value.map(({ value }) => value))}`];
}

function hardwareText({ sourceHardware }: SiteRule): readonly string[] {
  return sourceHardware === undefined
    ? []
    : [`ether saddr ${setOf(sourceHardware.value.map(({ value }) => formatHardware(value)))}`];
}

function addressText(
  expression: "saddr" | "daddr",
  list: SiteList<SiteTarget> | undefined,
  family: Family | undefined,
): readonly string[] | "never" {
  if (list === undefined || family === undefined) return [];
  const all = list.value.reduce<Ranges>((sum, { value }) => unionRanges(sum, value.addresses), []);
  const own = intersectRanges(all, [FAMILY_KEYS[family]]);
  if (own.length === 0) return "never";
  const [low, high] = FAMILY_KEYS[family];
  if (own.length === 1 && own[0]?.[0] === low && own[0][1] === high) return [];
  return [`${family === 4 ? "ip" : "ip6"} ${expression} ${setOf(own.map(([first, last]) => addressRun(first, last)))}`];
}

function addressRun(first: bigint, last: bigint): string {
  const text = (key: bigint): string => formatAddress(keyAddress(key) satisfies Address);
  return first === last ? text(first) : `${text(first)}-${text(last)}`;
}

/** `ports`: source ports are asked for too, so that a protocol with ports is needed. */
function serviceText(service: Service | undefined, ports: boolean): readonly string[] {
  if (service?.protocol === undefined) return ports ? [`meta l4proto { ${TCP}, ${UDP} }`] : [];
  const { protocol, icmp } = service;
  const head = `meta l4proto ${protocol}`;
  if (service.ports !== undefined) return [head, `th dport ${setOf(service.ports.map(run))}`];
  if (icmp === undefined) return [head];
  const word = protocol === 1 ? "icmp" : "icmpv6";
  const code = icmp.code === undefined ? [] : [`${word} code ${icmp.code}`];
  return [head, `${word} type ${icmp.type}`, ...code];
}

function portText({ sourcePorts }: SiteMatch): readonly string[] {
  if (sourcePorts === undefined) return [];
  const runs = sourcePorts.value.map(({ value }: Setting<{ readonly first: number; readonly last: number }>) =>
    run([BigInt(value.first), BigInt(value.last)]),
  );
  return [`th sport ${setOf(runs)}`];
}

function run([first, last]: readonly [bigint, bigint]): string {
  return first === last ? `${first}` : `${first}-${last}`;
}

/** One element as it is, several in braces; `auto-merge` of overlapping elements is not needed where ranges are merged. */
function setOf(elements: readonly string[]): string {
  const [only] = elements;
  return elements.length === 1 && only !== undefined ? only : `{ ${[...new Set(elements)].join(", ")} }`;
}
