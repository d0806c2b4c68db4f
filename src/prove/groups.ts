/**
 * Addresses that stand for many stations, as a stack sees them: broadcasts of its networks, and the multicast groups that
 * it hears on a leg.
 */
import {
  addressKey,
  isBroadcast,
  lastAddress,
  prefixOf,
  type Ranges,
  ranges,
  solicitedNode,
  unionRanges,
} from "../address/index.ts";
import type { Leg, Node } from "./atlas.ts";

const V6 = 1n << 128n;
const LIMITED_BROADCAST: Ranges = [[0xffffffffn, 0xffffffffn]];
/** 224.0.0.0/4 and ff00::/8. */
const MULTICAST: Ranges = ranges([0xe0000000n, 0xefffffffn], [V6 | (0xffn << 120n), V6 | ((1n << 128n) - 1n)]);

/** Broadcast addresses that are heard on some legs: those of their networks, and the limited one. */
function broadcastsOf(legs: readonly Leg[]): Ranges {
  const lasts = legs.flatMap((leg) =>
    leg.settled.addresses.flatMap((address) => {
      const prefix = prefixOf(address, address.prefixLength);
      const last = lastAddress(prefix);
      return isBroadcast(last, prefix) ? [[addressKey(last), addressKey(last)] as const] : [];
    }),
  );
  return unionRanges(ranges(...lasts), LIMITED_BROADCAST);
}

/** Multicast groups that a leg joined. */
function joinedOn(leg: Leg): Ranges {
  const joined = [...leg.settled.addresses, ...leg.settled.anycast].flatMap((address) => {
    if (address.family === 4) return [];
    const key = addressKey(solicitedNode(address));
    return [[key, key] as const];
  });
  return unionRanges(ranges(...joined), leg.interface.hears);
}

/** Addresses that stand for many stations at a stack. */
export type Groups = {
  /** All of them: multicast, and the broadcasts of its networks. */
  readonly all: Ranges;
  /** The broadcasts. */
  readonly broadcasts: Ranges;
};

const ofNodes = new WeakMap<Node, Groups>();

/** The groups of a stack. */
export function groupsOf(node: Node): Groups {
  const known = ofNodes.get(node);
  if (known !== undefined) return known;
  const broadcasts = broadcastsOf(node.legs);
  const found = { broadcasts, all: unionRanges(broadcasts, MULTICAST) };
  ofNodes.set(node, found);
  return found;
}

/** What concerns one leg. */
export type LegGroups = {
  /** Groups that are heard there: those joined, and broadcasts of any network of the stack; of a strong host, of the leg's. */
  readonly heard: Ranges;
  /** What a program sends to everyone on the link: multicast, and the broadcasts of that link. */
  readonly spoken: Ranges;
};

const ofLegs = new WeakMap<Leg, LegGroups>();

/** The groups of a leg. */
export function groupsOn(leg: Leg): LegGroups {
  const known = ofLegs.get(leg);
  if (known !== undefined) return known;
  const own = broadcastsOf([leg]);
  const isStrong = leg.node.stack.answersFor === "this-leg";
  const broadcasts = isStrong ? own : groupsOf(leg.node).broadcasts;
  const found = { heard: unionRanges(broadcasts, joinedOn(leg)), spoken: unionRanges(MULTICAST, own) };
  ofLegs.set(leg, found);
  return found;
}
