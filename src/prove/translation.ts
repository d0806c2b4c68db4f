/**
 * Translation over sets. The first packet of a connection asks the table; a rewritten field becomes a new variable, or
 * its old one plus a constant where the nth address or port becomes the nth of others.
 */
import {
  addressKey,
  FAMILY_KEYS,
  intersectRanges,
  isLinkLocal,
  keyAddress,
  prefixContains,
  prefixKeys,
  prefixOf,
  type Ranges,
  ranges,
  rangesWithin,
  subtractRanges,
} from "../address/index.ts";
import type { DropReason, InterfaceAddress, TranslateAction } from "../network/index.ts";
import { preferenceTurns, preferredSource, sourceCandidates } from "../protocol/index.ts";
import type { Leg } from "./atlas.ts";
import { DESTINATION, DESTINATION_PORT, SOURCE, SOURCE_PORT, TRANSLATED } from "./fields.ts";
import {
  cut,
  type Flow,
  isSameSight,
  moved,
  narrowed,
  rewritten,
  setOf,
  shift,
  sightOf,
  type Test,
  type View,
  valuesOf,
  withName,
  without,
  withSet,
} from "./flow.ts";
import { LINK_LOCAL } from "./reaches.ts";
import { familyOf, has } from "./tracking.ts";

/** Which end of a packet is rewritten. */
export type End = "source" | "destination";

type Rewrite = Extract<TranslateAction, { readonly do: "rewrite" }>;

/** What a rewriting needs to know besides the packets. */
export type Around = {
  /** The end that is rewritten. */
  readonly end: End;
  /** Tests of the rule's match: the nth address matched is counted in them. */
  readonly match: readonly Test[];
  /** The interface whose address stands for `egress-address`; absent: none. */
  readonly facing?: Leg | undefined;
  /** All its interfaces, where the stack sends to itself: then an address of any stands for `egress-address`; absent: it does not. */
  readonly turning?: readonly Leg[] | undefined;
  /** Key of the next hop there. */
  readonly via?: bigint | undefined;
  /** Something looks at source ports, so that a port taken by another flow matters. */
  readonly portsMatter: boolean;
  /** It makes a difference whether a destination that a rule names was another one before. */
  readonly endsMatter: boolean;
};

/** Packets after a rewriting. */
export type Rewriting = {
  /** Pieces; where it is open which of several values a field takes, each piece holds all of them. */
  readonly pieces: readonly Flow[];
  /** Packets that have nothing to be rewritten to. */
  readonly lost: readonly Lost[];
};

type Lost = { readonly flow: Flow; readonly reason: DropReason };

/** Rewrites one end of packets that begin connections. */
export function translated(flow: Flow, rewrite: Rewrite, around: Around): Rewriting {
  const byAddress = rewrite.to === "egress-address" && around.end === "source" ? byFacing(flow, around) : [flow];
  const given = byAddress.map((piece) => withAddress(piece, rewrite, around));
  const addressed = { pieces: given.flatMap(({ pieces }) => pieces), lost: given.flatMap(({ lost }) => lost) };
  const ported = addressed.pieces.map((piece) => withPort(piece, rewrite, around));
  return {
    pieces: ported.flatMap(({ pieces }) => pieces).map((piece) => noted(piece, flow, around.end)),
    lost: [...addressed.lost, ...ported.flatMap(({ lost }) => lost)],
  };
}

/** What a packet that was turned back inside looks like (see `Mapping.hairpin`). */
export type TurnedBack = {
  /** Fields when the stack began to track it. */
  readonly before: View;
  /** Addresses of the interface it came in by: who asks for these is not inside. */
  readonly near: Ranges;
  /** As in `Around`. */
  readonly portsMatter: boolean;
};

/** Packets whose destination was an outside address are seen from that one (RFC 4787 REQ-9a); the others stay as they are. */
export function seenFromOutside(flow: Flow, { before, near, portsMatter }: TurnedBack): readonly Flow[] {
  const [ends] = flow.names[TRANSLATED] ?? [];
  if (ends !== "destination" && ends !== "both") return [flow];
  const outside = sightOf(before, DESTINATION);
  const set = setOf(flow, outside.variable);
  const own = shift(near, -outside.plus);
  const [kept, turned] = [intersectRanges(set, own), subtractRanges(set, own)];
  const alike = kept.length === 0 ? [] : [withSet(flow, outside.variable, kept)];
  if (turned.length === 0) return alike;
  const narrow = withSet(flow, outside.variable, turned);
  const seen = { ...narrow, view: narrow.view.with(SOURCE, outside) };
  const ported = has(seen, SOURCE_PORT) && portsMatter ? [seen, ...exchanged(seen, SOURCE_PORT)] : [seen];
  return [...alike, ...ported.map((piece) => noted(piece, flow, "source"))];
}

/** An end that stays as it is was not rewritten, whatever rule names it (as the kernel's status bits, from memory). */
function noted(flow: Flow, was: Flow, end: End): Flow {
  const fields = end === "source" ? [SOURCE, SOURCE_PORT] : [DESTINATION, DESTINATION_PORT];
  const isKept = fields.every((field) => isSameSight(sightOf(flow.view, field), sightOf(was.view, field)));
  if (isKept) return flow;
  const [before] = flow.names[TRANSLATED] ?? [];
  return withName(flow, TRANSLATED, [before === "" || before === end ? end : "both"]);
}

function all(...pieces: readonly Flow[]): Rewriting {
  return { pieces, lost: [] };
}

/** Values that the rule's match lets a field have; undefined: any. */
function matchedIn(match: readonly Test[], field: number): Ranges | undefined {
  const test = match.find((each) => each.kind === "number" && each.field === field);
  return test?.kind === "number" ? test.within : undefined;
}

// -- addresses -----------------------------------------------------------------------------------------------------

const NO_ADDRESS: DropReason = "no-address-to-translate-to";

function withAddress(flow: Flow, { to, oneToOne }: Rewrite, around: Around): Rewriting {
  const field = around.end === "source" ? SOURCE : DESTINATION;
  if (to === "same") return all(flow);
  const pool = to === "egress-address" ? addressesOf(flow, around) : ofFamily(to, familyOf(flow));
  if (pool.length === 0) return { pieces: [], lost: [{ flow, reason: NO_ADDRESS }] };
  const matched = matchedIn(around.match, field);
  if (oneToOne && matched !== undefined) return oneByOne(flow, { field, from: matched, to: pool }, NO_ADDRESS);
  return all(...replaced(flow, field, pool, around));
}

/** What has that very value already keeps it, where that makes a difference. */
function replaced(flow: Flow, field: number, values: Ranges, { end, endsMatter }: Around): readonly Flow[] {
  if (!isSingle(values) || (end === "destination" && !endsMatter)) return [rewritten(flow, field, values)];
  const { hit, rest } = cut(flow, [{ kind: "number", field, within: values }]);
  return [...(hit === undefined ? [] : [hit]), ...rest.map((piece) => rewritten(piece, field, values))];
}

/** Packets by what they are seen from behind an interface. */
function byFacing(flow: Flow, around: Around): readonly Flow[] {
  return familyOf(flow) === 4 ? byPrefix(flow, around) : byScope(flow, around);
}

/** In IPv4 that is the address which faces the next hop, the destination itself on a link with several prefixes. */
function byPrefix(flow: Flow, { via, turning, facing }: Around): readonly Flow[] {
  if (via !== undefined || turning !== undefined) return [flow];
  const own = (facing?.settled.addresses ?? []).filter(({ family }) => family === 4);
  const prefixes = own.map((address) => ranges(prefixKeys(prefixOf(address, address.prefixLength))));
  let rest: Flow | undefined = flow;
  const pieces: Flow[] = [];
  for (const prefix of prefixes) {
    const near: Flow | undefined = rest && narrowed(rest, DESTINATION, prefix);
    if (near !== undefined) pieces.push(near);
    rest = rest && without(rest, DESTINATION, prefix);
  }
  return rest === undefined ? pieces : [...pieces, rest];
}

/**
 * Packets to addresses of a link, and others: in IPv6 their senders choose apart (RFC 6724 section 5, rule 2). Of several
 * addresses that reach beyond it the destination decides.
 */
function byScope(flow: Flow, { facing, turning }: Around): readonly Flow[] {
  const near = narrowed(flow, DESTINATION, LINK_LOCAL);
  const far = without(flow, DESTINATION, LINK_LOCAL);
  const wide = widest(facing?.settled.addresses ?? []);
  const parted = far === undefined ? [] : turning !== undefined || wide.length < 2 ? [far] : byPreference(far, wide);
  return near === undefined ? parted : [...parted, near];
}

function widest(own: Own): Own {
  return own.filter((address) => address.family === 6 && !isLinkLocal(address));
}

/** Packets by the address that is preferred for their destination. */
function byPreference(flow: Flow, wide: Own): readonly Flow[] {
  const candidates = sourceCandidates(wide, true);
  const bounds = preferenceTurns(candidates).flatMap((prefix) => {
    const [low, high] = prefixKeys(prefix);
    return [low, high + 1n];
  });
  const cuts = [...new Set(bounds)].sort((a, b) => (a < b ? -1 : 1));
  const seenFrom = new Map<InterfaceAddress | undefined, (readonly [bigint, bigint])[]>();
  for (const [low, high] of valuesOf(flow, DESTINATION)) {
    const starts = [low, ...cuts.filter((cut) => low < cut && cut <= high)];
    for (const [at, start] of starts.entries()) {
      const chosen = preferredSource(candidates, keyAddress(start));
      seenFrom.set(chosen, [...(seenFrom.get(chosen) ?? []), [start, (starts[at + 1] ?? high + 1n) - 1n]]);
    }
  }
  return [...seenFrom.values()].flatMap((to) => narrowed(flow, DESTINATION, ranges(...to)) ?? []);
}

function ofFamily(keys: Ranges, family: 4 | 6): Ranges {
  return intersectRanges(keys, [FAMILY_KEYS[family]]);
}

function isSingle(set: Ranges): boolean {
  const [pair] = set;
  return set.length === 1 && pair !== undefined && pair[0] === pair[1];
}

function addressesOf(flow: Flow, around: Around): Ranges {
  const family = familyOf(flow);
  if (around.turning !== undefined) return addressesOfAny(around.turning, flow);
  const own = (around.facing?.settled.addresses ?? []).filter((address) => address.family === family);
  const chosen =
    around.end === "destination" ? own.slice(0, 1) : family === 4 ? facing4(own, flow, around) : facing6(own, flow);
  return ranges(...chosen.map((address) => [addressKey(address), addressKey(address)] as const));
}

/** What the kernel takes where a packet leaves by no interface (seen on 6.18): in IPv4 the first, in IPv6 one of its own. */
function addressesOfAny(legs: readonly Leg[], flow: Flow): Ranges {
  const family = familyOf(flow);
  const own = legs.flatMap((leg) => leg.settled.addresses).filter((address) => address.family === family);
  const chosen = family === 4 ? own.slice(0, 1) : anyOf(own, flow);
  return ranges(...chosen.map((address) => [addressKey(address), addressKey(address)] as const));
}

type Own = Leg["settled"]["addresses"];

function anyOf(own: Own, flow: Flow): Own {
  const wide = widest(own);
  return ofLink(own, flow) ?? (wide.length > 0 ? wide : own);
}

/** What packets to addresses of a link are sent from; undefined: these are others. */
function ofLink(own: Own, flow: Flow): Own | undefined {
  const near = own.filter((address) => isLinkLocal(address));
  return near.length > 0 && rangesWithin(LINK_LOCAL, valuesOf(flow, DESTINATION)) ? near : undefined;
}

/** The address that faces the next hop (kernel fact 21), else the first: of packets by prefix it is the same for all. */
function facing4(own: Own, flow: Flow, { via }: Around): Own {
  const [[lowest] = [undefined]] = valuesOf(flow, DESTINATION);
  const hop = via ?? lowest;
  const near =
    hop === undefined
      ? undefined
      : own.find((address) => prefixContains(prefixOf(address, address.prefixLength), keyAddress(hop)));
  return near === undefined ? own.slice(0, 1) : [near];
}

/** To an address of a link one of the link, else the one preferred for the destination: of packets by scope it is the same for all. */
function facing6(own: Own, flow: Flow): Own {
  const [[lowest] = [undefined]] = valuesOf(flow, DESTINATION);
  const wide = sourceCandidates(widest(own), true);
  const best = lowest === undefined ? undefined : preferredSource(wide, keyAddress(lowest));
  return ofLink(own, flow) ?? (best === undefined ? own : [best]);
}

type Mapping = { readonly field: number; readonly from: Ranges; readonly to: Ranges };

/** The nth of `from` becomes the nth of `to`; where there is none, the packets are lost. */
function oneByOne(flow: Flow, { field, from, to }: Mapping, reason: DropReason): Rewriting {
  const moves = runs(from, to);
  const pieces = moves.flatMap(({ low, high, plus }) => {
    const piece = narrowed(flow, field, [[low, high]]);
    return piece === undefined ? [] : [plus === 0n ? piece : moved(piece, field, plus)];
  });
  const within = ranges(...moves.map(({ low, high }) => [low, high] as const));
  const { rest } = cut(flow, [{ kind: "number", field, within }]);
  return { pieces, lost: rest.map((left) => ({ flow: left, reason })) };
}

type Run = { readonly low: bigint; readonly high: bigint; readonly plus: bigint };

/** Stretches of `from` that move by one constant each. */
function runs(from: Ranges, to: Ranges): readonly Run[] {
  const found: Run[] = [];
  let at = 0;
  let used = 0n;
  for (const [low, high] of from) {
    for (let start = low; start <= high; ) {
      const target = to[at];
      if (target === undefined) return found;
      const room = target[1] - target[0] + 1n - used;
      const count = high - start + 1n < room ? high - start + 1n : room;
      found.push({ low: start, high: start + count - 1n, plus: target[0] + used - start });
      start += count;
      used += count;
      if (used <= target[1] - target[0]) continue;
      at++;
      used = 0n;
    }
  }
  return found;
}

// -- ports ---------------------------------------------------------------------------------------------------------

/** A port that is taken is exchanged for another one of its class (kernel fact 21). */
const CLASSES: readonly Ranges[] = [[[0n, 511n]], [[512n, 1023n]], [[1024n, 65_535n]]];
const NO_PORT: DropReason = "no-free-port";

function withPort(flow: Flow, rewrite: Rewrite, around: Around): Rewriting {
  const field = around.end === "source" ? SOURCE_PORT : DESTINATION_PORT;
  const { ports, to, byOffset = around.end === "destination", keepPort = false } = rewrite;
  if (!has(flow, field)) return all(flow);
  if (ports === undefined) {
    const isKept = around.end === "destination" || to === "same" || !around.portsMatter;
    return isKept ? all(flow) : all(flow, ...exchanged(flow, field));
  }
  const from = matchedIn(around.match, field);
  if (byOffset)
    return from === undefined
      ? all(...replaced(flow, field, firstOf(ports), around))
      : oneByOne(flow, { field, from, to: ports }, NO_PORT);
  if (!keepPort) return all(rewritten(flow, field, ports));
  const { hit, rest } = cut(flow, [{ kind: "number", field, within: ports }]);
  const kept = hit === undefined ? [] : around.portsMatter ? [hit, rewritten(hit, field, ports)] : [hit];
  return all(...kept, ...rest.map((piece) => rewritten(piece, field, ports)));
}

function exchanged(flow: Flow, field: number): readonly Flow[] {
  return CLASSES.flatMap((one) => {
    const piece = narrowed(flow, field, one);
    return piece === undefined ? [] : [rewritten(piece, field, one)];
  });
}

/** The variable that a source port has become, where it may be any of several; undefined: it is not left open. */
export function drawnPort(before: Flow, after: Flow): number | undefined {
  const { variable } = sightOf(after.view, SOURCE_PORT);
  if (variable < before.sets.length || isSingle(setOf(after, variable))) return undefined;
  return variable;
}

function firstOf(set: Ranges): Ranges {
  const [pair] = set;
  return pair === undefined ? set : [[pair[0], pair[0]]];
}
