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
  prefixKeys,
  type Ranges,
  ranges,
  single,
  subtractRanges,
} from "../address/index.ts";
import type { DropReason, InterfaceAddress, TranslateAction } from "../network/index.ts";
import { preferenceTurns, preferredSource, sourceCandidates } from "../protocol/index.ts";
import type { Leg } from "./atlas.ts";
import { facedBy } from "./facing.ts";
import { DESTINATION, DESTINATION_PORT, SOURCE, SOURCE_PORT, TRANSLATED } from "./fields.ts";
import {
  cut,
  type Flow,
  isSameSight,
  moved,
  narrowed,
  onlyValue,
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
  const given = targetsOf(flow, rewrite.to, around).map((each) => withAddress(each, rewrite, around));
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

/** Packets with the addresses of which they are given one; absent: they keep their own. */
type Target = { readonly flow: Flow; readonly pool?: Ranges };

function targetsOf(flow: Flow, to: Rewrite["to"], around: Around): readonly Target[] {
  if (to === "same") return [{ flow }];
  if (to !== "egress-address") return [{ flow, pool: ofFamily(to, familyOf(flow)) }];
  return seenFrom(flow, around).map(({ flow: piece, own }) => ({
    flow: piece,
    pool: ranges(...own.map((address) => [addressKey(address), addressKey(address)] as const)),
  }));
}

function withAddress({ flow, pool }: Target, { oneToOne }: Rewrite, around: Around): Rewriting {
  const field = around.end === "source" ? SOURCE : DESTINATION;
  if (pool === undefined) return all(flow);
  if (pool.length === 0) return { pieces: [], lost: [{ flow, reason: NO_ADDRESS }] };
  const matched = matchedIn(around.match, field);
  if (oneToOne && matched !== undefined) return oneByOne(flow, { field, from: matched, to: pool }, NO_ADDRESS);
  return all(...replaced(flow, field, pool, around));
}

/** What has that very value already keeps it, where that makes a difference. */
function replaced(flow: Flow, field: number, values: Ranges, { end, endsMatter }: Around): readonly Flow[] {
  if (onlyValue(values) === undefined || (end === "destination" && !endsMatter))
    return [rewritten(flow, field, values)];
  const { hit, rest } = cut(flow, [{ kind: "number", field, within: values }]);
  return [...(hit === undefined ? [] : [hit]), ...rest.map((piece) => rewritten(piece, field, values))];
}

type Own = Leg["settled"]["addresses"];

/** Packets with the addresses of a stack that stand for `egress-address`: of several it is open which. */
type Seen = { readonly flow: Flow; readonly own: Own };

/** Packets by what they are seen from behind an interface; what goes to an address there goes to the first one. */
function seenFrom(flow: Flow, { end, facing, turning, via }: Around): readonly Seen[] {
  const family = familyOf(flow);
  const legs = turning ?? (facing === undefined ? [] : [facing]);
  const own = legs.flatMap(({ settled }) => settled.addresses).filter((address) => address.family === family);
  const isTurned = turning !== undefined;
  if (isTurned ? family === 4 : end === "destination") return [{ flow, own: own.slice(0, 1) }];
  return family === 4 ? byPrefix(flow, own, via) : byScope(flow, own, isTurned);
}

/** In IPv4 the address that faces the next hop, the destination itself on a link with several prefixes. */
function byPrefix(flow: Flow, own: Own, via: bigint | undefined): readonly Seen[] {
  return facedBy(own, via === undefined ? valuesOf(flow, DESTINATION) : single(via)).flatMap(
    ({ hops, by }): readonly Seen[] => {
      const piece = via === undefined ? narrowed(flow, DESTINATION, hops) : flow;
      return piece === undefined ? [] : [{ flow: piece, own: by === undefined ? [] : [by] }];
    },
  );
}

/**
 * In IPv6 packets to addresses of a link are sent from one of the link, if there is one, others from one that reaches further
 * (RFC 6724 section 5, rule 2). Where they leave by no interface the kernel takes any such (seen on 6.18).
 */
function byScope(flow: Flow, own: Own, isTurned: boolean): readonly Seen[] {
  const near = narrowed(flow, DESTINATION, LINK_LOCAL);
  const far = without(flow, DESTINATION, LINK_LOCAL);
  const ofLink = own.filter((address) => isLinkLocal(address));
  const wide = own.filter((address) => !isLinkLocal(address));
  const byReach = (piece: Flow): readonly Seen[] =>
    isTurned || wide.length < 2 ? [{ flow: piece, own: wide.length > 0 ? wide : own }] : byPreference(piece, wide);
  const fromLink = near === undefined ? [] : ofLink.length > 0 ? [{ flow: near, own: ofLink }] : byReach(near);
  return [...(far === undefined ? [] : byReach(far)), ...fromLink];
}

/** Packets by the address that is preferred for their destination. */
function byPreference(flow: Flow, wide: Own): readonly Seen[] {
  const candidates = sourceCandidates(wide, true);
  const bounds = preferenceTurns(candidates).flatMap((prefix) => {
    const [low, high] = prefixKeys(prefix);
    return [low, high + 1n];
  });
  const cuts = [...new Set(bounds)].sort((a, b) => (a < b ? -1 : 1));
  const preferred = new Map<InterfaceAddress, (readonly [bigint, bigint])[]>();
  for (const [low, high] of valuesOf(flow, DESTINATION)) {
    const starts = [low, ...cuts.filter((cut) => low < cut && cut <= high)];
    for (const [at, start] of starts.entries()) {
      const chosen = preferredSource(candidates, keyAddress(start));
      if (chosen === undefined) throw new Error(`none of ${wide.length} addresses is preferred`);
      preferred.set(chosen, [...(preferred.get(chosen) ?? []), [start, (starts[at + 1] ?? high + 1n) - 1n]]);
    }
  }
  return [...preferred].flatMap(([address, to]) => {
    const piece = narrowed(flow, DESTINATION, ranges(...to));
    return piece === undefined ? [] : [{ flow: piece, own: [address] }];
  });
}

function ofFamily(keys: Ranges, family: 4 | 6): Ranges {
  return intersectRanges(keys, [FAMILY_KEYS[family]]);
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
  if (variable < before.sets.length || onlyValue(setOf(after, variable)) !== undefined) return undefined;
  return variable;
}

function firstOf(set: Ranges): Ranges {
  const [pair] = set;
  return pair === undefined ? set : [[pair[0], pair[0]]];
}
