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
  prefixOf,
  type Ranges,
  ranges,
  rangesSize,
  rangesWithin,
} from "../address/index.ts";
import type { TranslateAction } from "../network/index.ts";
import type { Leg } from "./atlas.ts";
import { DESTINATION, DESTINATION_PORT, SOURCE, SOURCE_PORT, TRANSLATED } from "./fields.ts";
import { cut, type Flow, moved, narrowed, rewritten, type Test, valuesOf, withName } from "./flow.ts";
import { familyOf, has } from "./tracking.ts";

/** Which end of a packet is rewritten. */
export type End = "source" | "destination";

type Rewrite = Extract<TranslateAction, { readonly do: "rewrite" }>;

/** What a rewriting needs to know besides the packets. */
export type Around = {
  readonly end: End;
  /** Tests of the rule's match: the nth address matched is counted in them. */
  readonly match: readonly Test[];
  /** The interface whose address stands for `egress-address`; absent: none. */
  readonly facing?: Leg | undefined;
  /** Key of the next hop there. */
  readonly via?: bigint | undefined;
  /** Something looks at source ports, so that a port taken by another flow matters. */
  readonly portsMatter: boolean;
};

/** Packets after a rewriting, as pieces; `undefined`: there is no address to translate to. */
export function translated(flow: Flow, rewrite: Rewrite, around: Around): readonly Flow[] | undefined {
  const addressed = withAddress(flow, rewrite, around);
  if (addressed === undefined) return undefined;
  return addressed.flatMap((piece) => withPort(piece, rewrite, around)).map((piece) => noted(piece, flow, around.end));
}

/** A source that stays as it is was not rewritten; a destination that a rule names was. */
function noted(flow: Flow, was: Flow, end: End): Flow {
  if (end === "source" && flow.view === was.view) return flow;
  const [before] = flow.names[TRANSLATED] ?? [];
  return withName(flow, TRANSLATED, [before === "" || before === end ? end : "both"]);
}

// -- addresses -----------------------------------------------------------------------------------------------------

function withAddress(flow: Flow, { to, oneToOne }: Rewrite, around: Around): readonly Flow[] | undefined {
  const field = around.end === "source" ? SOURCE : DESTINATION;
  if (to === "same") return [flow];
  const family = familyOf(flow);
  const pool = to === "egress-address" ? facingAddresses(flow, around) : intersectRanges(to, [FAMILY_KEYS[family]]);
  if (pool.length === 0) return undefined;
  const matched = around.match.find((test) => test.kind === "number" && test.field === field);
  if (oneToOne && matched?.kind === "number") return oneByOne(flow, field, matched.within, pool);
  const [only] = pool;
  if (around.end === "destination" || pool.length > 1 || only === undefined || only[0] !== only[1]) {
    return [rewritten(flow, field, pool)];
  }
  // What has that source already keeps it.
  const { hit, rest } = cut(flow, [{ kind: "number", field, within: pool }]);
  return [...(hit === undefined ? [] : [hit]), ...rest.map((piece) => rewritten(piece, field, pool))];
}

/** The address of the interface that faces the next hop (kernel fact 21); all of them where that is open. */
function facingAddresses(flow: Flow, { facing, via }: Around): Ranges {
  const family = familyOf(flow);
  const all = (facing?.settled.addresses ?? []).filter((address) => address.family === family);
  const usable =
    family === 6 && all.some((address) => !isLinkLocal(address)) ? all.filter((each) => !isLinkLocal(each)) : all;
  const near = usable.filter((address) => {
    const prefix = prefixOf(address, address.prefixLength);
    if (via !== undefined) return prefixContains(prefix, keyAddress(via));
    return valuesOf(flow, DESTINATION).some(([low]) => prefixContains(prefix, keyAddress(low)));
  });
  const first = usable.slice(0, 1);
  const chosen = via === undefined ? (near.length > 0 ? near : first) : near.length > 0 ? near.slice(0, 1) : first;
  return ranges(...chosen.map((address) => [addressKey(address), addressKey(address)] as const));
}

/** The nth of `from` becomes the nth of `to`; cut where either has a gap, and where `to` is too short. */
function oneByOne(flow: Flow, field: number, from: Ranges, to: Ranges): readonly Flow[] {
  return runs(from, to).flatMap(({ low, high, plus }) => {
    const piece = narrowed(flow, field, [[low, high]]);
    return piece === undefined ? [] : [moved(piece, field, plus)];
  });
}

type Run = { readonly low: bigint; readonly high: bigint; readonly plus: bigint };

/** Stretches of `from` that move by one constant each. */
function runs(from: Ranges, to: Ranges): Run[] {
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
      if (used > target[1] - target[0]) {
        at++;
        used = 0n;
      }
    }
  }
  return found;
}

// -- ports ---------------------------------------------------------------------------------------------------------

/** A port that is taken is exchanged for another one of its class (kernel fact 21). */
const CLASSES: readonly Ranges[] = [[[0n, 511n]], [[512n, 1023n]], [[1024n, 65_535n]]];

function withPort(flow: Flow, { ports, to }: Rewrite, around: Around): readonly Flow[] {
  const field = around.end === "source" ? SOURCE_PORT : DESTINATION_PORT;
  if (!has(flow, field)) return [flow];
  if (ports !== undefined) return toPorts(flow, field, ports, around);
  if (around.end === "destination" || to === "same" || !around.portsMatter) return [flow];
  const exchanged = CLASSES.flatMap((one) => {
    const piece = narrowed(flow, field, one);
    return piece === undefined ? [] : [rewritten(piece, field, one)];
  });
  return [flow, ...exchanged];
}

/** The nth of the matched ports becomes the nth of these where there are as many; else any of these. */
function toPorts(flow: Flow, field: number, ports: Ranges, { match, end }: Around): readonly Flow[] {
  const matched = match.find((test) => test.kind === "number" && test.field === field);
  if (end === "destination" && matched?.kind === "number" && rangesSize(matched.within) === rangesSize(ports)) {
    return oneByOne(flow, field, matched.within, ports);
  }
  const now = valuesOf(flow, field);
  if (end === "source" && rangesWithin(ports, now)) return [flow];
  return [rewritten(flow, field, ports)];
}
