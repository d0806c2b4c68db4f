/**
 * The target of a question, ready to be asked: which addresses belong to it, which interfaces and segments.
 */
import {
  EMPTY_RANGES,
  FAMILY_KEYS,
  intersectRanges,
  type Ranges,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import type { Id } from "../network/index.ts";
import type { Atlas, Leg, Node } from "./atlas.ts";
import { groupsOf } from "./groups.ts";
import type { Target } from "./question.ts";
import { LINK_LOCAL, type Segments, segmentsBy } from "./reaches.ts";

/** What counts as arriving. */
export type Aim = {
  /** Address keys whose owner, or whose place on a link, is the target. */
  readonly addresses: Ranges;
  /** Those that somebody could have tomorrow where packets to them are sent today. */
  readonly claimable: Ranges;
  /** Addresses of the target's own interfaces. */
  readonly owned: Ranges;
  /** The target's own interfaces. */
  readonly interfaces: ReadonlySet<Id>;
  /** Link-local addresses that count on whatever link. */
  readonly everyLink: Ranges;
  /** Stacks where delivery counts; empty: any. */
  readonly stacks: ReadonlySet<Id>;
  /** Segments of the target. */
  readonly segments: Segments;
  /** Segments where `claimable` addresses live. */
  readonly homes: Segments;
  /** Interfaces of upstreams. */
  readonly upstreams: ReadonlySet<Id>;
  /** Destinations that count of what is handed to these. */
  readonly beyond: Ranges;
};

/** Every address of both families. */
export const ALL_ADDRESSES: Ranges = [FAMILY_KEYS[4], FAMILY_KEYS[6]];

/** Makes a target ready. */
export function aimAt(target: Target, atlas: Atlas): Aim {
  const owned = target.interfaces.reduce(
    (keys, id) => unionRanges(keys, atlas.legs.get(id)?.own ?? EMPTY_RANGES),
    EMPTY_RANGES,
  );
  const listed = target.anyAddress === true ? ALL_ADDRESSES : target.addresses;
  return {
    addresses: unionRanges(listed, owned),
    claimable: subtractRanges(listed, LINK_LOCAL),
    owned,
    interfaces: new Set(target.interfaces),
    everyLink: intersectRanges(listed, LINK_LOCAL),
    stacks: new Set(target.stacks),
    segments: segmentsBy(target.segments),
    homes: segmentsBy(target.homes ?? []),
    upstreams: new Set(target.upstreams),
    beyond: target.beyond ?? ALL_ADDRESSES,
  };
}

/**
 * Addresses whose delivery at a stack counts: all of them at the target's stacks, at any other its own ones and the
 * broadcasts of its networks. What lies beyond an upstream is owned by nobody here: that a router has an address out there
 * does not make it the internet.
 */
export function countingAt(aim: Aim, node: Node, ingress: Leg | undefined): Ranges {
  const counting = onAnyLink(aim, node);
  const near = unionRanges(aim.everyLink, nearby(aim, node, ingress));
  return unionRanges(subtractRanges(counting, LINK_LOCAL), intersectRanges(counting, near));
}

function onAnyLink(aim: Aim, node: Node): Ranges {
  if (aim.stacks.size === 0 || aim.stacks.has(node.stack.id)) return aim.addresses;
  if (aim.upstreams.size > 0) return intersectRanges(aim.owned, node.own);
  return intersectRanges(aim.addresses, unionRanges(node.own, groupsOf(node).broadcasts));
}

/**
 * A link-local address means something on its own link only (RFC 4007 section 5), and interfaces of one trunk share it:
 * it counts where it came in by the target's interface. What turned round was bound to any of the stack's.
 */
function nearby(aim: Aim, node: Node, ingress: Leg | undefined): Ranges {
  const legs = ingress === undefined ? node.legs : [ingress];
  const own = legs.reduce(
    (keys, leg) => (aim.interfaces.has(leg.interface.id) ? unionRanges(keys, leg.own) : keys),
    EMPTY_RANGES,
  );
  return intersectRanges(own, LINK_LOCAL);
}
