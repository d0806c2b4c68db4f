/**
 * What rules ask of a packet, as conditions. A key that is not written asks nothing; several services become
 * alternatives; a list with nothing in it fits no packet.
 */
import {
  type Family,
  normalizeRanges,
  type Ranges,
  rangeOf,
  type Service,
  single,
  unionRanges,
} from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Alternatives, Condition, Match, NumberField } from "../network/index.ts";
import type { Setting, SiteDevice, SiteList, SiteMatch } from "../site/index.ts";
import { interfaceIds } from "./tunnels.ts";

/** A condition on a number. */
export function within(field: NumberField, values: Ranges, origin: Origin): Condition {
  return { field, within: values, origin };
}

/** A condition on the IP version. */
export function familyIs(family: Family, origin: Origin): Condition {
  return within("family", single(BigInt(family)), origin);
}

/** The word of a list of one, else the list. */
function placeOf<T>({ value, origin }: SiteList<T>): Origin {
  const [only, second] = value;
  return only !== undefined && second === undefined ? only.origin : origin;
}

/** Conditions common to all alternatives of a rule; undefined: it fits no packet. */
function commonConditions(rule: SiteMatch, device: SiteDevice): Match | undefined {
  const { family, ingress, egress, source, dest, sourcePorts } = rule;
  const addresses = ({ value }: NonNullable<SiteMatch["source"]>): Ranges =>
    normalizeRanges(value.flatMap((target) => target.value.addresses));
  const conditions = [
    family && familyIs(family.value, family.origin),
    ingress && interfaces("ingress", ingress, device),
    egress && interfaces("egress", egress, device),
    source && within("source", addresses(source), placeOf(source)),
    dest && within("destination", addresses(dest), placeOf(dest)),
    sourcePorts && within("sourcePort", runsOf(sourcePorts), placeOf(sourcePorts)),
  ].filter((condition) => condition !== undefined);
  return conditions.some(isImpossible) ? undefined : conditions;
}

function interfaces(field: "ingress" | "egress", names: SiteList<string>, device: SiteDevice): Condition {
  return { field, oneOf: names.value.flatMap(({ value }) => interfaceIds(device, value)), origin: placeOf(names) };
}

function runsOf({ value }: SiteList<{ readonly first: number; readonly last: number }>): Ranges {
  return normalizeRanges(value.map(({ value: { first, last } }) => [BigInt(first), BigInt(last)] as const));
}

function isImpossible(condition: Condition): boolean {
  return "within" in condition ? condition.within.length === 0 : condition.oneOf.length === 0;
}

/** The alternatives of a rule, with further conditions that hold for all of them. */
export function alternativesOf(rule: SiteMatch, device: SiteDevice, further: readonly Condition[] = []): Alternatives {
  const common = commonConditions(rule, device);
  if (common === undefined || further.some(isImpossible)) return [];
  const shared = [...common, ...further];
  if (rule.services === undefined) return [shared];
  return serviceMatches(rule.services.value).map((service) => [...shared, ...service]);
}

/** Services as matches; ports of one protocol are put together, the first mention says where. */
export function serviceMatches(services: readonly Setting<Service>[]): Alternatives {
  const ported = new Map<number, { ports: Ranges; readonly origin: Origin }>();
  const others: Match[] = [];
  for (const { value, origin } of services) {
    const { protocol, ports, icmp } = value;
    if (protocol === undefined) return [[]];
    const known = ported.get(protocol);
    if (ports === undefined) others.push([protocolIs(protocol, origin), ...messageIs(icmp, origin)]);
    else if (known === undefined) ported.set(protocol, { ports, origin });
    else known.ports = unionRanges(known.ports, ports);
  }
  const joined = [...ported].map(([protocol, { ports, origin }]): Match => {
    return [protocolIs(protocol, origin), within("destinationPort", ports, origin)];
  });
  return [...joined, ...others];
}

function protocolIs(protocol: number, origin: Origin): Condition {
  return within("protocol", single(BigInt(protocol)), origin);
}

function messageIs(icmp: Service["icmp"], origin: Origin): readonly Condition[] {
  if (icmp === undefined) return [];
  const type = within("icmpType", rangeOf(BigInt(icmp.type), BigInt(icmp.type)), origin);
  return icmp.code === undefined ? [type] : [type, within("icmpCode", single(BigInt(icmp.code)), origin)];
}
