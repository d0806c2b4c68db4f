/**
 * The order of hooks: the steps of a packet through a stack, from the device's profile. Kernel fact 1: route and hop limit
 * come before the filter, the neighbour after it. What a device does not have (a filter, translation) is no step at all.
 */
import { FAMILY_KEYS, type Ranges, ranges, single, subtractRanges, unionRanges } from "../address/index.ts";
import type { Alternatives, Match, Stack, Step } from "../network/index.ts";
import type { SiteDevice, SiteRuleList } from "../site/index.ts";
import { FILTER_LISTS, type FilterList, filterId } from "./filters.ts";
import { acrossBeyond, type Beyond, fromBeyond } from "./internet.ts";
import { familyIs, within } from "./matches.ts";
import { profileOf, ruleOf } from "./plant.ts";
import { icmpRefusal, SILENT } from "./refusals.ts";
import { type TranslatedEndName, translateId } from "./translations.ts";
import { allowedSources, interfaceIds } from "./tunnels.ts";

type Sequences = Pick<Stack, "received" | "local" | "onward" | "sent">;

/** The four sequences of a device. */
export function stepsOf(device: SiteDevice, beyond: readonly Beyond[]): Sequences {
  if (device.is === "upstream") return upstreamSteps(device, beyond);
  const martians = [martianStep(device), ...broadcastStep(device)];
  const tracks = trackStep(device);
  const rewrites = translateStep(device, "dest");
  const first = profileOf(device).martiansFirst.value;
  const checks = sourceSteps(device, "after-route");
  return {
    received: [
      ...allowedSources(device),
      ...(first ? martians : []),
      ...tracks,
      ...rewrites,
      ...(first ? [] : martians),
      ...sourceSteps(device, "before-route"),
      routeStep(device),
    ],
    local: [
      ...checks,
      ...filterStep(device, "to"),
      ...confirmStep(device),
      step(device, "deliver", "what is for the device itself goes to whatever listens there", "RFC 1122 section 3.2.1"),
    ],
    onward: device.forwarding.value
      ? [...checks, ...onwardSteps(device)]
      : [{ op: "no-transit", origin: device.forwarding.origin }],
    sent: [
      routeStep(device),
      ...tracks,
      ...filterStep(device, "from"),
      ...translateStep(device, "source"),
      ...confirmStep(device),
      ...outSteps(device),
    ],
  };
}

/** An upstream stands for all that is beyond it: it answers, and forwards what is for its customers or for those of other upstreams. */
function upstreamSteps(device: SiteDevice, beyond: readonly Beyond[]): Sequences {
  return {
    received: [...fromBeyond(device, beyond), routeStep(device)],
    local: [step(device, "deliver", "addresses of the internet answer", "dryrack")],
    onward: [
      ...acrossBeyond(device, beyond),
      martianStep(device),
      ...broadcastStep(device),
      hopLimitStep(device),
      ...forwardableStep(device),
      scopeStep(device),
      fitStep(device, false),
      ...outSteps(device),
    ],
    sent: [routeStep(device), ...outSteps(device)],
  };
}

function hopLimitStep(device: SiteDevice): Step {
  return step(device, "hop-limit", "each router lowers the hop limit", "RFC 1812 section 5.3.1");
}

function onwardSteps(device: SiteDevice): readonly Step[] {
  const { origin } = device.forwarding;
  return [
    // Where it was told to forward, that is the line by which anything gets through it at all.
    origin.by === "written" ? { op: "hop-limit", origin } : hopLimitStep(device),
    ...forwardableStep(device),
    scopeStep(device),
    fitStep(device, false),
    ...filterStep(device, "through"),
    ...translateStep(device, "source"),
    ...confirmStep(device),
    ...outSteps(device),
  ];
}

function outSteps(device: SiteDevice): readonly Step[] {
  return [
    fitStep(device, true),
    step(device, "neighbour", "the next hop is asked for its hardware address", "RFC 826, RFC 4861"),
    step(device, "transmit", "out of the interface", "RFC 1812 section 5.2"),
  ];
}

type PlainOp =
  | "own-source"
  | "broadcast-source"
  | "no-transit"
  | "hop-limit"
  | "neighbour"
  | "transmit"
  | "deliver"
  | "confirm"
  | "route";

function step(device: SiteDevice, op: PlainOp, rule: string, source: string): Step {
  return { op, origin: ruleOf(device, rule, source) };
}

function fitStep(device: SiteDevice, cuts: boolean): Step {
  const rule = cuts
    ? "what exceeds the interface's size is cut"
    : "what exceeds the interface's size and may not be cut";
  return { op: "fit", cuts, origin: ruleOf(device, rule, "RFC 1812 section 4.2.2.7, RFC 1191") };
}

function routeStep(device: SiteDevice): Step {
  return step(device, "route", "the longest prefix decides", "RFC 1812 section 5.2.4.3");
}

function filterStep(device: SiteDevice, list: FilterList): readonly Step[] {
  const written = device.filter?.[list];
  return written === undefined ? [] : [{ op: "filter", table: filterId(device.name, list), origin: written.origin }];
}

function translateStep(device: SiteDevice, end: TranslatedEndName): readonly Step[] {
  const { translate } = device;
  // Answers are changed back at the other end, so a device that translates one end has both steps.
  if (translate === undefined || translate.source.length + translate.dest.length === 0) return [];
  const meant = end === "dest" ? "destination" : "source";
  return [{ op: "translate", end: meant, table: translateId(device.name, end), origin: translate.origin }];
}

/** Connections are tracked where a rule asks for their state or an address is translated. */
function tracksConnections({ filter, translate }: SiteDevice): boolean {
  const asks = (list: SiteRuleList | undefined) => list?.rules.some(({ states }) => states !== undefined) ?? false;
  const translates = translate !== undefined && translate.source.length + translate.dest.length > 0;
  return translates || FILTER_LISTS.some((list) => asks(filter?.[list]));
}

function trackStep(device: SiteDevice): readonly Step[] {
  if (!tracksConnections(device)) return [];
  const { value, source } = profileOf(device).midStream;
  const midStream = device.filter?.midStream?.value ?? value;
  const origin = device.filter?.midStream?.origin ?? ruleOf(device, "connections are tracked", source);
  return [{ op: "track", midStream, except: untracked(device), origin }];
}

function confirmStep(device: SiteDevice): readonly Step[] {
  if (!tracksConnections(device)) return [];
  return [step(device, "confirm", "a connection counts once its first packet has passed", "linux")];
}

/** Neighbour discovery and listener reports are untracked (kernel fact 18; the numbers from memory). */
function untracked(device: SiteDevice): Alternatives {
  const origin = ruleOf(device, "neighbour discovery is untracked", "kernel fact 18");
  return [[within("protocol", single(58n), origin), within("icmpType", ranges([130n, 137n], [143n, 143n]), origin)]];
}

/** Checks of the source, those of each family where the profile has them. */
function sourceSteps(device: SiteDevice, place: "before-route" | "after-route"): readonly Step[] {
  const { reversePath } = device;
  const checked = profileOf(device).sourcesChecked.value;
  const families = ([4, 6] as const).filter((family) => checked[family] === place);
  const own = step(device, "own-source", "who sends with an address of ours is not heard", "kernel fact 7");
  const both = families.length === 2 ? [undefined] : families;
  return [...(families.includes(4) ? [own] : []), ...both.flatMap((family) => reversePathStep(reversePath, family))];
}

function reversePathStep({ value, origin }: SiteDevice["reversePath"], family: 4 | 6 | undefined): readonly Step[] {
  if (value === "none") return [];
  return [{ op: "reverse-path", mode: value, ...(family === undefined ? {} : { family }), origin }];
}

const IPV4: Ranges = ranges(FAMILY_KEYS[4]);
const IPV6: Ranges = ranges(FAMILY_KEYS[6]);
const V6 = FAMILY_KEYS[6][0];
const LOOPBACK_6: Ranges = ranges([V6 + 1n, V6 + 1n]); // ::1
const UNSPECIFIED_6: Ranges = ranges([V6, V6]); // ::
const MULTICAST_6: Ranges = ranges([V6 + (0xffn << 120n), FAMILY_KEYS[6][1]]); // ff00::/8
const LINK_LOCAL_6: Ranges = ranges([V6 + (0xfe80n << 112n), V6 + (0xfec0n << 112n) - 1n]); // fe80::/10
const SOURCES_OF_A_LINK: Ranges = unionRanges(LINK_LOCAL_6, UNSPECIFIED_6);
const BROADCAST = single(0xffffffffn);
const NO_GROUP: Ranges = subtractRanges(IPV4, ranges([0xe0000000n, 0xefffffffn], [0xffffffffn, 0xffffffffn]));

/** Sources and destinations that end a packet wherever it arrives. Who has no address yet may speak to everybody (RFC 2131 section 4.1). */
function martianStep(device: SiteDevice): Step {
  const { value, source } = profileOf(device).martians;
  const origin = ruleOf(device, "addresses that no packet may bear", source);
  const conditions = (family: 4 | 6, sources: Ranges, destinations: Ranges): Match => [
    familyIs(family, origin),
    within("source", sources, origin),
    within("destination", destinations, origin),
  ];
  const that: Alternatives = [
    conditions(4, subtractRanges(IPV4, value.sources), subtractRanges(IPV4, value.destinations)),
    conditions(4, NO_GROUP, BROADCAST),
    conditions(
      6,
      subtractRanges(subtractRanges(IPV6, LOOPBACK_6), MULTICAST_6),
      subtractRanges(subtractRanges(IPV6, LOOPBACK_6), UNSPECIFIED_6),
    ),
  ];
  return { op: "require", fromOutside: true, that, reason: "martian", otherwise: SILENT, origin };
}

/** No station has the broadcast address of a network; which addresses are that, leases decide too. */
function broadcastStep(device: SiteDevice): readonly Step[] {
  const { value, source } = profileOf(device).discardsBroadcastSources;
  return value ? [step(device, "broadcast-source", "addresses that no packet may bear", source)] : [];
}

/** Addresses that mean something on their own link only are not forwarded (RFC 4291 section 2.5.6). */
function forwardableStep(device: SiteDevice): readonly Step[] {
  const { value, source } = profileOf(device).unforwardable;
  if (value.length === 0) return [];
  const origin = ruleOf(device, ON_THEIR_LINK, source);
  const addresses = subtractRanges(IPV4, value);
  const that: Alternatives = [
    [familyIs(4, origin), within("source", addresses, origin), within("destination", addresses, origin)],
    [familyIs(6, origin)],
  ];
  return [{ op: "require", that, reason: "not-forwardable", otherwise: SILENT, origin }];
}

const ON_THEIR_LINK = "addresses of one link stay on it";

/**
 * IPv6 addresses of one link are handed back to that link, and to no other; who sent such a packet is told (RFC 4291 section
 * 2.5.6, RFC 4443 section 3.1 code 2). Where a link-local destination leads is the step `route`'s affair.
 */
function scopeStep(device: SiteDevice): Step {
  const origin = ruleOf(device, ON_THEIR_LINK, "RFC 4291 section 2.5.6");
  const six = familyIs(6, origin);
  const back = (id: string): Match => [
    six,
    within("source", SOURCES_OF_A_LINK, origin),
    { field: "ingress", oneOf: [id], origin },
    { field: "egress", oneOf: [id], origin },
  ];
  const that: Alternatives = [
    [familyIs(4, origin)],
    [six, within("source", subtractRanges(IPV6, SOURCES_OF_A_LINK), origin)],
    ...device.interfaces.flatMap(({ name }) => interfaceIds(device, name).map(back)),
  ];
  return {
    op: "require",
    that,
    reason: "not-forwardable",
    otherwise: icmpRefusal("beyond-scope", "towards-sender"),
    origin,
  };
}
