/**
 * The internet between the upstreams of a site. Any two of them are joined by a link of their own, which is no cable of the
 * plan: its ports and interfaces bear names that no document can have (`isBeyond`). An upstream sends on what is for a prefix
 * that another one hands out or delegates, and answers for everything else itself, like one that is alone. Only public
 * prefixes are told from one provider to the next, and only what has a public source crosses (RFC 1918 section 3; RFC 6890 for
 * the other blocks). Where there is one upstream, none of this is there. What its own customers send to one another an upstream sends
 * on like any router.
 */
import {
  EMPTY_RANGES,
  intersectRanges,
  type Prefix,
  PUBLIC_KEYS,
  prefixesOfKeys,
  prefixKeys,
  prefixOf,
  type Ranges,
  ranges,
  subtractRanges,
  widthOf,
} from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import {
  beyondId,
  beyondPortId,
  type Condition,
  type Id,
  type Interface,
  type Link,
  type Port,
  type Step,
} from "../network/index.ts";
import { derivedHardware, type SiteDevice } from "../site/index.ts";
import { withDigest } from "./digest.ts";
import { interfaceId } from "./ids.ts";
import { within } from "./matches.ts";
import { ruleOf, type SiteIndex } from "./plant.ts";
import { SILENT } from "./refusals.ts";

/** Another upstream, as seen from one. */
export type Beyond = {
  /** Its device. */
  readonly other: SiteDevice;
  /** Public prefixes that it serves and this one does not. */
  readonly prefixes: readonly Prefix[];
  /** Id of the own interface towards it. */
  readonly leg: Id;
};

/** The other upstreams of a site, in document order; none where neither end serves anything public. */
export function beyondOf(device: SiteDevice, { site }: SiteIndex): readonly Beyond[] {
  if (!isThere(device)) return [];
  const others = site.devices.filter((other) => other !== device && isThere(other));
  if (others.length === 0) return [];
  const own = publiclyServedBy(device);
  return others.flatMap((other) => {
    const served = publiclyServedBy(other);
    if (own.length + served.length === 0) return [];
    // What both serve stays with each of them.
    const prefixes = prefixesOfKeys(subtractRanges(served, own));
    return [{ other, prefixes, leg: beyondId(device.name, other.name) }];
  });
}

function isThere({ is, interfaces }: SiteDevice): boolean {
  return is === "upstream" && interfaces.length > 0;
}

/** Prefixes that an upstream serves. */
export function prefixesServed(device: SiteDevice): readonly Prefix[] {
  return prefixesOfKeys(servedBy(device));
}

/** Addresses that an upstream serves, as keys: those of its links, and those that it leads to its customers. */
function servedBy({ interfaces, routes }: SiteDevice): Ranges {
  const onLinks = interfaces.flatMap(({ addresses }) =>
    addresses.flatMap((address) =>
      address.length === widthOf(address.family) ? [] : [prefixOf(address, address.length)],
    ),
  );
  const led = routes.flatMap(({ action, to }) => (action === "forward" ? [to] : []));
  return ranges(...[...onLinks, ...led].map(prefixKeys));
}

/** Those of them that are told to other providers. */
function publiclyServedBy(device: SiteDevice): Ranges {
  return intersectRanges(servedBy(device), PUBLIC_KEYS);
}

function originOf(device: SiteDevice): Origin {
  return ruleOf(device, "the internet joins all upstreams", "dryrack");
}

// -- the link ------------------------------------------------------------------------------------------------------

/** Packets of this size cross the internet whole, in bytes (common practice: the size of Ethernet, RFC 894). */
const MTU = 1500;

/** Ports towards the other upstreams. */
export function beyondPorts(device: SiteDevice, index: SiteIndex): readonly Port[] {
  return beyondOf(device, index).map(({ other }) =>
    withDigest({
      id: beyondPortId(device.name, other.name),
      origin: originOf(device),
      device: device.name,
      rateMbps: 0,
      mtu: MTU,
      enabled: true,
      hardware: hardwareOf(device, other),
    }),
  );
}

function hardwareOf(device: SiteDevice, other: SiteDevice): bigint {
  return derivedHardware(device.name, "~internet", other.name);
}

/** Interfaces towards the other upstreams: without addresses, since the peer is known. */
export function beyondInterfaces(device: SiteDevice, beyond: readonly Beyond[]): readonly Interface[] {
  const origin = originOf(device);
  return beyond.map(({ other, prefixes, leg }) => ({
    id: leg,
    origin,
    on: beyondPortId(device.name, other.name),
    hardware: hardwareOf(device, other),
    mtu: MTU,
    speaks6: true,
    hears: EMPTY_RANGES,
    awaits: [],
    addresses: [],
    tunnel: {
      allowed: ranges(...prefixes.map(prefixKeys)),
      whenDown: "silent",
      reason: "upstream-down",
      origin: originOf(other),
    },
  }));
}

/** A link for each two upstreams. */
export function internetLinks(index: SiteIndex): readonly Link[] {
  const made = new Set<Id>();
  return index.site.devices.flatMap((device) =>
    beyondOf(device, index).flatMap(({ other }): readonly Link[] => {
      const ends = [beyondPortId(device.name, other.name), beyondPortId(other.name, device.name)] as const;
      if (made.has(ends[0])) return [];
      for (const end of ends) made.add(end);
      const id = ends.join("--");
      return [withDigest({ id, origin: originOf(device), ends, kind: "internet", downWith: [], onDemand: false })];
    }),
  );
}

// -- what crosses --------------------------------------------------------------------------------------------------

const ONLY_PUBLIC = "only public addresses cross the internet";

/** What comes from another upstream has a public source. */
export function fromBeyond(device: SiteDevice, beyond: readonly Beyond[]): readonly Step[] {
  if (beyond.length === 0) return [];
  const origin = ruleOf(device, ONLY_PUBLIC, "RFC 1918 section 3, RFC 6890");
  const { customers, others } = sidesOf(device, beyond, "ingress", origin);
  const that = [[customers], [others, within("source", PUBLIC_KEYS, origin)]];
  return [{ op: "require", fromOutside: true, that, reason: "not-public", otherwise: SILENT, origin }];
}

/**
 * An upstream sends on what its customers send to one another and to those of other upstreams, and what comes from there to its own
 * customers; not from one upstream to the next but one.
 */
export function acrossBeyond(device: SiteDevice, beyond: readonly Beyond[]): readonly Step[] {
  if (beyond.length === 0) return [];
  const noTransit = ruleOf(device, "an upstream forwards nothing from one upstream to the next but one", "dryrack");
  const from = sidesOf(device, beyond, "ingress", noTransit).customers;
  const to = sidesOf(device, beyond, "egress", noTransit).customers;
  const origin = ruleOf(device, ONLY_PUBLIC, "RFC 1918 section 3, RFC 6890");
  const that = [[sidesOf(device, beyond, "egress", origin).customers], [within("source", PUBLIC_KEYS, origin)]];
  return [
    { op: "require", that: [[from], [to]], reason: "no-transit", otherwise: SILENT, origin: noTransit },
    { op: "require", that, reason: "not-public", otherwise: SILENT, origin },
  ];
}

type Sides = { readonly customers: Condition; readonly others: Condition };

function sidesOf(device: SiteDevice, beyond: readonly Beyond[], field: "ingress" | "egress", origin: Origin): Sides {
  const customers = device.interfaces.map(({ name }) => interfaceId(device.name, name));
  return {
    customers: { field, oneOf: customers, origin },
    others: { field, oneOf: beyond.map(({ leg }) => leg), origin },
  };
}
