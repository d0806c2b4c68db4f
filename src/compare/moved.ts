/**
 * Hosts that stand in other networks than before. What gets from network to network tells nothing of them, since others stand there,
 * too; so each is an end of its own: what it reaches as itself, and what reaches it, whatever address it has now. What is
 * told of a network already is not told of its hosts again.
 */
import {
  addressKey,
  FAMILY_KEYS,
  intersectRanges,
  type Prefix,
  parsePrefix,
  prefixKeys,
  type Ranges,
  rangesOf,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import { directoryOf } from "../evaluate/index.ts";
import type { Alternatives } from "../network/index.ts";
import { type Box, boxesWithout, DESTINATION, matchOf, SOURCE } from "../prove/index.ts";
import type { Change } from "../result/index.ts";
import { movedHosts } from "./alongside.ts";
import { COMPARED } from "./origin.ts";
import { endsOf, hostEnd } from "./pairs.ts";
import { beginnersOf, type Reach, reachOn, targetsOf } from "./reach.ts";
import { type CompareRequest, type Pair, type PairEnd, SIDES, type State, type TurnedSet } from "./states.ts";

/** Of a pair the field in which the moved host's own address stands. */
type Moved = { readonly pair: Pair; readonly own: "source" | "destination" };

/** Packets that begin at a moved host, or get to it, on one side only. `told`: what is known of networks; `most`: pieces of a difference. */
export function movedSets(request: CompareRequest, told: readonly TurnedSet[], most: number): readonly TurnedSet[] {
  return movedHosts(request).flatMap((names) => {
    const host = hostEnd(names, request);
    if (host === undefined) return [];
    // Whatever somebody else may send by its cable is told of the network.
    const asItself = { ...host, base: { ...host.base, entrances: [] }, head: { ...host.head, entrances: [] } };
    const pairs: readonly Moved[] = [
      ...endsOf(request, targetsOf).map((to): Moved => ({ pair: { from: asItself, to }, own: "source" })),
      ...endsOf(request, beginnersOf).map((from): Moved => ({ pair: { from, to: host }, own: "destination" })),
    ];
    return pairs.flatMap((each) => turnedFor(each, request, told, most));
  });
}

function turnedFor(
  { pair, own }: Moved,
  request: CompareRequest,
  told: readonly TurnedSet[],
  most: number,
): readonly TurnedSet[] {
  const reaches = { base: reachOn("base", pair, request.base), head: reachOn("head", pair, request.head) };
  const undecided = reaches.base.undecided ?? reaches.head.undecided;
  const plain = ({ plain: all }: Reach): Alternatives => all.map((match) => match.filter(({ field }) => field !== own));
  return (["newly-allowed", "newly-forbidden"] as const).flatMap((change): readonly TurnedSet[] => {
    const { here, there } = SIDES[change];
    const set = { pair, change, kind: "plain" } as const;
    if (undecided !== undefined) return [{ ...set, boxes: [], undecided }];
    const boxes = boxesWithout(plain(reaches[here]), plain(reaches[there]), most);
    if (boxes === undefined) return [{ ...set, boxes: [], undecided: `more than ${most} pieces of a difference` }];
    const [at, far] = own === "source" ? [SOURCE, DESTINATION] : [DESTINATION, SOURCE];
    const host = pair[own === "source" ? "from" : "to"];
    const keys = { base: addressesOf(host, request.base, "base"), head: addressesOf(host, request.head, "head") };
    // Of itself it says nothing, nor who could have claimed the address that it has on the other side.
    const others = subtractRanges(own === "source" ? ROUTED : EVERY, unionRanges(keys.base, keys.head));
    const real = boxes.flatMap((box) => withOnly(box, at, keys[here])).flatMap((box) => withOnly(box, far, others));
    const left = boxesWithout(matchesOf(real), matchesOf(known(told, change, pair)), most) ?? real;
    return left.length === 0 ? [] : [{ ...set, boxes: left }];
  });
}

function withOnly({ numbers, names }: Box, at: number, keys: Ranges): readonly Box[] {
  const left = intersectRanges(numbers[at] ?? [], keys);
  return left.length === 0 ? [] : [{ numbers: numbers.with(at, left), names }];
}

const EVERY: Ranges = [FAMILY_KEYS[4], FAMILY_KEYS[6]];

/** What is more than a matter of one link: no link-local addresses, no groups, no limited broadcast (RFC 919 section 7). */
const ROUTED: Ranges = (["224.0.0.0/4", "255.255.255.255/32", "fe80::/10", "ff00::/8"] as const).reduce<Ranges>(
  (left, text) => subtractRanges(left, [prefixKeys(knownPrefix(text))]),
  EVERY,
);

function knownPrefix(text: string): Prefix {
  const parsed = parsePrefix(text);
  if (parsed === undefined) throw new Error(`${text} is no prefix`);
  return parsed.prefix;
}

/** Addresses of an end's interfaces in whatever is left open, without link-local ones. */
function addressesOf(end: PairEnd, { evaluation }: State, side: "base" | "head"): Ranges {
  const stack = directoryOf(evaluation.network).stackAt.get(end[side]?.id ?? "");
  const legs = new Set(stack?.interfaces.map(({ id }) => id));
  const { worlds } = evaluation.worlds();
  const rests = worlds.flatMap(({ settled }) => settled.stacks.flatMap(({ interfaces }) => interfaces));
  return intersectRanges(
    rangesOf(rests.flatMap(({ interface: leg, addresses }) => (legs.has(leg) ? addresses.map(addressKey) : []))),
    ROUTED,
  );
}

/** What is told between the other end and networks. */
function known(told: readonly TurnedSet[], change: Change, { from, to }: Pair): readonly Box[] {
  const same = told.filter(
    ({ pair, change: which }) => which === change && (pair.from.id === from.id || pair.to.id === to.id),
  );
  return same.flatMap(({ boxes }) => boxes);
}

function matchesOf(boxes: readonly Box[]): Alternatives {
  return boxes.map(({ numbers }) => matchOf(numbers, COMPARED));
}
