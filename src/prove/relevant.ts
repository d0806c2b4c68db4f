/**
 * Which packets can matter to a question at all, a superset: by their destination those that some stack sends towards
 * the target, by their source those whose connections could bring something there. All others are left out before the
 * walk begins.
 *
 * Translations widen both: what a rule turns into a destination that matters, matters; so does the address behind
 * which a source that matters is hidden, since answers to it are turned back.
 */
import {
  EMPTY_RANGES,
  FAMILY_KEYS,
  intersectRanges,
  type Ranges,
  rangesContain,
  rangesEqual,
  rangesOverlap,
  rangesWithin,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import type { Id, Match, Notes, Route, SegmentPoint, Stack, TranslateTable } from "../network/index.ts";
import { type Aim, ALL_ADDRESSES } from "./aim.ts";
import type { Atlas, Leg, Node } from "./atlas.ts";
import { listOf } from "./by-key.ts";
import { groupsOf } from "./groups.ts";
import type { Point } from "./link.ts";
import { LINK_LOCAL, lies, pointIn, type Reaches } from "./reaches.ts";
import { numbersWhere } from "./stretches.ts";

/** Packets that can matter. */
export type Relevant = {
  /** Destinations of packets that can come to the target as they are. */
  readonly direct: Ranges;
  /** Destinations of packets that can come to it as part of a connection; holds `direct`. */
  readonly destinations: Ranges;
  /** Sources of packets whose connections can bring something to the target. */
  readonly sources: Ranges;
};

/** A rewriting rule in one of its matches. */
type Rewriting = {
  /** Which end is rewritten. */
  readonly end: "source" | "destination";
  /** What the rewritten field was. */
  readonly from: Ranges;
  /** What it can become. */
  readonly to: Ranges;
  /** Addresses of whoever rewrites it. */
  readonly own: Ranges;
};

/** What the translations of a site do to addresses: plain values. */
export type Translating = {
  /** Which addresses can become which, anywhere. */
  readonly rewritings: readonly Rewriting[];
  /** Sources that a mapping can be made for, one for several connections. */
  readonly mapped: Ranges;
};

/** A site at rest, and who is told what is looked at. */
type Surveyed = { readonly atlas: Atlas; readonly reaches: Reaches; readonly notes: Notes };

/** Works out what can matter to an aim, for packets that pass these stacks and those that these senders begin. */
export function relevantTo(aim: Aim, site: Surveyed, senders: ReadonlySet<Id>): Relevant {
  const { atlas, notes } = site;
  const aimed = unionRanges(aim.addresses, ledTo(aim, site, senders));
  notes.turned(aimed);
  return relevantAmong(aimed, translatingIn(atlas));
}

/** Packets that can matter to these destinations under some translations. */
export function relevantAmong(aimed: Ranges, { rewritings, mapped }: Translating): Relevant {
  const direct = widened(aimed, rewritings, "destination");
  let destinations = direct;
  for (let before = EMPTY_RANGES; !rangesEqual(before, destinations); ) {
    before = destinations;
    destinations = widened(hidden(destinations, rewritings), rewritings, "destination");
  }
  return { direct, destinations, sources: widened(unionRanges(direct, mapped), rewritings, "source") };
}

/** Destinations of packets, and which of them are the business of whoever translates them. */
export type SentTo = {
  /** The destinations. */
  readonly destinations: Ranges;
  /** Those that are nobody's: whoever names them in a translation stands for them. Of the others whoever has them does. */
  readonly free: Ranges;
};

/** What translations can make of such destinations: what those who stand for them make of them, then others, one rule after the other. */
export function ledFrom({ destinations, free }: SentTo, { rewritings }: Translating): Ranges {
  let led = EMPTY_RANGES;
  for (let before: Ranges | undefined; before === undefined || !rangesEqual(before, led); ) {
    before = led;
    for (const { end, from, to, own } of rewritings) {
      if (end !== "destination") continue;
      const mine = unionRanges(isNamed(from) ? free : EMPTY_RANGES, intersectRanges(destinations, own));
      if (rangesOverlap(from, unionRanges(mine, led))) led = unionRanges(led, to);
    }
  }
  return led;
}

/** Whether a translation says of which addresses: one of all of a family diverts whatever comes by. */
function isNamed(from: Ranges): boolean {
  return ![FAMILY_KEYS[4], FAMILY_KEYS[6]].some((all) => rangesWithin(from, [all]));
}

/** Sources that a mapping can be made for: what comes in by it begins connections that can bring anything anywhere. */
function mappedIn(atlas: Atlas): Ranges {
  const mapping = [...atlas.nodes.values()].filter(({ stack }) => stack.mapping !== undefined);
  return mapping
    .flatMap((node) => rewritingsAt(node, atlas))
    .reduce((all, { end, from }) => (end === "source" ? unionRanges(all, from) : all), EMPTY_RANGES);
}

/** Adds what a rewriting of one end turns into a member. */
function widened(set: Ranges, rewritings: readonly Rewriting[], end: Rewriting["end"]): Ranges {
  let all = set;
  for (let before = EMPTY_RANGES; !rangesEqual(before, all); ) {
    before = all;
    for (const each of rewritings)
      if (each.end === end && rangesOverlap(each.to, all)) all = unionRanges(all, each.from);
  }
  return all;
}

/** Adds the addresses behind which members are hidden. */
function hidden(set: Ranges, rewritings: readonly Rewriting[]): Ranges {
  return rewritings.reduce(
    (all, { end, from, to }) => (end === "source" && rangesOverlap(from, all) ? unionRanges(all, to) : all),
    set,
  );
}

// -- by link -------------------------------------------------------------------------------------------------------

/** Destinations that some stack sends out by a link that is the target. */
function ledTo(aim: Aim, { atlas, reaches, notes }: Surveyed, senders: ReadonlySet<Id>): Ranges {
  if (aim.segments.size === 0 && aim.upstreams.size === 0) return EMPTY_RANGES;
  const routed = forwardersTo(aim, atlas, reaches).map((leg) => {
    notes.stack(leg.node.stack.id);
    // Packets to addresses of the link are handed back to it.
    const led = leg.interface.speaks6 ? unionRanges(sentBy(leg), LINK_LOCAL) : sentBy(leg);
    // Who is on the link of an upstream hands it whatever it answers for.
    return aim.upstreams.has(leg.interface.id) ? unionRanges(led, leg.node.beyond) : led;
  });
  const own = [...senders].flatMap((id) => atlas.nodes.get(id)?.legs ?? []).filter((leg) => leg.settled.up);
  const begun = own.flatMap((leg) => {
    notes.link([leg.interface.id]);
    return leadsTo(leg, aim, reaches) ? [sentBy(leg), LINK_LOCAL, groupsOf(leg.node).all] : [];
  });
  return [...routed, ...begun].reduce(unionRanges, EMPTY_RANGES);
}

/** Where frames of the interfaces of all stacks that forward get to. */
type Landings = {
  /** Interfaces by bridge or attachment that their frames get to, with the part of it. */
  readonly at: ReadonlyMap<Id, readonly { readonly leg: Leg; readonly point: Point }[]>;
  /** Interfaces by the interfaces that their frames get to. */
  readonly on: ReadonlyMap<Id, readonly Leg[]>;
  /** Those whose frames get to a segment, as it is asked for. */
  readonly segments: Map<string, readonly Leg[]>;
};

const landings = new WeakMap<Atlas, Landings>();

function landingsOf(atlas: Atlas, reaches: Reaches): Landings {
  const known = landings.get(atlas);
  if (known !== undefined) return known;
  const at = new Map<Id, { readonly leg: Leg; readonly point: Point }[]>();
  const on = new Map<Id, Leg[]>();
  for (const node of atlas.nodes.values()) {
    for (const leg of node.forwards ? node.legs : []) {
      if (!leg.settled.up) continue;
      for (const point of reaches.of(leg).points) listOf(at, point.at).push({ leg, point });
      for (const touch of reaches.of(leg).touches) listOf(on, touch.leg.interface.id).push(leg);
    }
  }
  const found = { at, on, segments: new Map() };
  landings.set(atlas, found);
  return found;
}

/** Interfaces of stacks that forward whose frames get to a bridge or attachment, with the part of it, or to an interface. */
export function landedAt(
  id: Id,
  atlas: Atlas,
  reaches: Reaches,
): readonly { readonly leg: Leg; readonly point?: Point }[] {
  const { at, on } = landingsOf(atlas, reaches);
  return [...(at.get(id) ?? []), ...(on.get(id) ?? []).map((leg) => ({ leg }))];
}

/** Interfaces of stacks that forward whose link is the target. */
function forwardersTo(aim: Aim, atlas: Atlas, reaches: Reaches): readonly Leg[] {
  const found = landingsOf(atlas, reaches);
  const { on } = found;
  const bySegment = [...aim.segments.values()].flat().flatMap((segment) => landedOn(found, segment));
  const upstreams = [...aim.upstreams];
  const byTouch = upstreams.flatMap((id) => on.get(id) ?? []);
  const named = upstreams
    .flatMap((id) => atlas.legs.get(id) ?? [])
    .filter(({ node, settled }) => node.forwards && settled.up);
  return [...new Set([...bySegment, ...byTouch, ...named])];
}

function landedOn({ at, segments }: Landings, segment: SegmentPoint): readonly Leg[] {
  const key = `${segment.at} ${segment.vlan}`;
  const known =
    segments.get(key) ?? (at.get(segment.at) ?? []).flatMap(({ leg, point }) => (lies(point, segment) ? [leg] : []));
  segments.set(key, known);
  return known;
}

/** Whether the link of an interface is the target, or an upstream of it is there. */
export function leadsTo(leg: Leg, aim: Aim, reaches: Reaches): boolean {
  if (aim.upstreams.has(leg.interface.id)) return true;
  const reach = reaches.of(leg);
  return (
    pointIn(reach.points, aim.segments) !== undefined ||
    reach.touches.some((touch) => aim.upstreams.has(touch.leg.interface.id))
  );
}

const sent = new WeakMap<Leg, Ranges>();

/** Destinations that a stack sends out by a leg. */
function sentBy(leg: Leg): Ranges {
  const known = sent.get(leg);
  if (known !== undefined) return known;
  const { ways, otherwise } = leg.node;
  const isHop = ({ action }: Pick<Route, "action">): boolean =>
    action.do === "forward" && action.hops.some((hop) => hop.egress === leg.interface.id);
  const routed = numbersWhere(ways, isHop);
  const missed = isHop(otherwise)
    ? subtractRanges(
        ALL_ADDRESSES,
        numbersWhere(ways, () => true),
      )
    : EMPTY_RANGES;
  const found = unionRanges(routed, missed);
  sent.set(leg, found);
  return found;
}

// -- translations --------------------------------------------------------------------------------------------------

const translatings = new WeakMap<Atlas, Translating>();

/** What the translations of a site do to addresses. */
export function translatingIn(atlas: Atlas): Translating {
  const known = translatings.get(atlas);
  if (known !== undefined) return known;
  const rewritings = [...atlas.nodes.values()].flatMap((node) => rewritingsAt(node, atlas));
  const found = { rewritings, mapped: mappedIn(atlas) };
  translatings.set(atlas, found);
  return found;
}

function rewritingsAt(node: Node, atlas: Atlas): Rewriting[] {
  return translationsOf(node.stack).flatMap(([end, id]) => {
    const table = atlas.translations.get(id)?.table;
    return table === undefined ? [] : rewritingsIn(table, end, node);
  });
}

function translationsOf({ received, local, onward, sent: begun }: Stack): (readonly [Rewriting["end"], Id])[] {
  const steps = [...received, ...local, ...onward, ...begun];
  return steps.flatMap((step) => (step.op === "translate" ? [[step.end, step.table] as const] : []));
}

function rewritingsIn({ rules, otherwise }: TranslateTable, end: Rewriting["end"], node: Node): Rewriting[] {
  const lines = [...rules, { when: [[]] as readonly Match[], action: otherwise.action }];
  return lines.flatMap(({ when, action }) => {
    if (action.do !== "rewrite" || action.to === "same") return [];
    const { to } = action;
    return when.map((match): Rewriting => {
      const written = to === "egress-address" ? facing(match, end, node) : to;
      const alike = familiesIn(match);
      return {
        end,
        from: intersectRanges(addressesIn(match, end), alike),
        to: intersectRanges(written, alike),
        own: node.own,
      };
    });
  });
}

/**
 * Addresses that a stack can put in the place of a source: those of the interfaces that the match lets packets leave by. What
 * is turned back inside is seen from any outside address.
 */
function facing(match: Match, end: Rewriting["end"], node: Node): Ranges {
  const condition = match.find(({ field }) => field === "egress");
  const isAny = end === "destination" || node.stack.mapping?.hairpin === true;
  if (isAny || condition === undefined || !("oneOf" in condition)) return node.own;
  const legs = node.legs.filter((leg) => condition.oneOf.includes(leg.interface.id));
  return legs.reduce((keys, leg) => unionRanges(keys, leg.own), EMPTY_RANGES);
}

/** Addresses of the families that a match lets packets be of. */
function familiesIn(match: Match): Ranges {
  const condition = match.find(({ field }) => field === "family");
  const families = condition !== undefined && "within" in condition ? condition.within : [[4n, 6n] as const];
  return ([4, 6] as const).reduce(
    (keys, family) => (rangesContain(families, BigInt(family)) ? unionRanges(keys, [FAMILY_KEYS[family]]) : keys),
    EMPTY_RANGES,
  );
}

/** Addresses that a match lets be at one end. */
function addressesIn(match: Match, end: Rewriting["end"]): Ranges {
  const condition = match.find((each) => each.field === end);
  return condition !== undefined && "within" in condition ? condition.within : ALL_ADDRESSES;
}
