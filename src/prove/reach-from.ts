/**
 * Where frames get to from an entrance or an interface.
 *
 * Seats of one switch differ in little: whatever enters by one of them goes everywhere but back. So what leaves a bridge by
 * all of its ports is followed once, each part marked with the port it left by (its branch), and an entrance takes all
 * but its own branch. That is exact only where its branch has no place in common with another one: then taking it out
 * changes nothing else. Where they meet (a ring, a hub, two cables) the entrance is followed by itself.
 */
import { EMPTY_RANGES, single } from "../address/index.ts";
import type { Bridge, Id, Pick } from "../network/index.ts";
import type { Atlas, BridgePlace, Leg } from "./atlas.ts";
import { ANY_TAGS, type TagSet } from "./bridge.ts";
import type { LinkReach } from "./link.ts";
import { type Entered, Spread, type Watch } from "./spread.ts";
import { BEGINNING, follow, type Trail } from "./trail.ts";
import type { Part, Wave } from "./wave.ts";
import { everyWayOut, tagsKey } from "./ways-out.ts";

/** Frames of any kind that enter at these attachments. */
export function reachFromEntrances(atlas: Atlas, entrances: readonly Id[]): LinkReach {
  const spread = new Spread(atlas, entrances.length === 1 ? sharing(atlas) : undefined);
  for (const at of entrances) {
    const wave: Wave = { tags: ANY_TAGS, trail: undefined, sentAt: at, taken: [], given: false };
    spread.arrive({ at, wave, isEntrance: true });
  }
  return spread.run();
}

/** Frames that an interface sends, which take these options where they meet the choice. Default: any. */
export function reachFromLeg(atlas: Atlas, leg: Leg, taken: readonly Pick[] = []): LinkReach {
  const spread = new Spread(atlas, undefined, taken);
  const { on, vlan } = leg.interface;
  const vlans = vlan === undefined ? EMPTY_RANGES : single(BigInt(vlan));
  const tags: TagSet = { untagged: vlan === undefined, vlans, inner: false };
  spread.sendFrom(on, { tags, trail: undefined, sentAt: on, taken: [], given: true });
  return spread.run();
}

/** Hands over at the first bridge, where the entrance has its branch for itself. */
function sharing(atlas: Atlas): Watch {
  let isFirst = true;
  return {
    takesOver: (spread, { bridge, port }, entered) => {
      if (!isFirst) return false;
      isFirst = false;
      const common = commonOf(atlas, { bridge, port }, entered);
      if (common.meeting.has(port.id)) return false;
      spread.adopt(without(common, port.id, entered));
      return true;
    },
    visits: () => {},
    looks: () => {},
  };
}

// -- what entrances of a bridge share ------------------------------------------------------------------------------

/** What becomes of frames that leave a bridge by all of its ports. */
type Common = LinkReach & {
  /** What each branch looked at. */
  readonly lookedBy: ReadonlyMap<Id, ReadonlySet<Id>>;
  /** Branches that have a place in common with another. */
  readonly meeting: ReadonlySet<Id>;
};

const known = new WeakMap<Atlas, Map<string, Common>>();

function commonOf(atlas: Atlas, { bridge, port }: BridgePlace, entered: readonly Entered[]): Common {
  const all = known.get(atlas) ?? new Map<string, Common>();
  known.set(atlas, all);
  const domains = entered.map(({ domain: { vlans, came, inner } }) => {
    const inside = vlans === undefined ? "any" : tagsKey({ untagged: false, vlans, inner });
    return `${inside} ${tagsKey(came)}`;
  });
  const key = [bridge.id, port.isolation ?? "", ...domains].join(" ");
  const common = all.get(key) ?? spreadAll(atlas, bridge, port.isolation, entered);
  all.set(key, common);
  return common;
}

function spreadAll(atlas: Atlas, bridge: Bridge, isolation: string | undefined, entered: readonly Entered[]): Common {
  const watch = new Meetings(atlas, bridge.id);
  const spread = new Spread(atlas, watch);
  for (const [index, { domain }] of entered.entries()) {
    const wave = { tags: domain.came, trail: BEGINNING, sentAt: "", taken: [], given: false };
    const ways = everyWayOut(atlas, bridge, isolation, domain);
    spread.leaveBy({ bridge, ways, domain }, wave, index);
  }
  return { ...spread.run(), lookedBy: watch.lookedBy, meeting: watch.meeting };
}

/** Notices branches that meet. */
class Meetings implements Watch {
  readonly meeting: Set<Id> = new Set();
  readonly lookedBy: Map<Id, Set<Id>> = new Map();
  readonly #atlas: Atlas;
  readonly #bridge: Id;
  readonly #visitors = new Map<string, Id>();

  constructor(atlas: Atlas, bridge: Id) {
    this.#atlas = atlas;
    this.#bridge = bridge;
  }

  takesOver(): boolean {
    return false;
  }

  visits(place: string, at: Id, { branch }: Part): void {
    const other = this.#visitors.get(place);
    if (other === undefined) this.#visitors.set(place, branch);
    else if (other !== branch) this.meeting.add(branch).add(other);
    // Back at the first bridge, by whatever port: an entrance there has been visited too.
    const back = this.#atlas.bridgePortAt.get(at);
    if (back?.bridge.id === this.#bridge && back.port.id !== branch) this.meeting.add(branch).add(back.port.id);
  }

  looks(id: Id, { branch }: Part): void {
    const looked = this.lookedBy.get(branch);
    if (looked === undefined) this.lookedBy.set(branch, new Set([id]));
    else looked.add(id);
  }
}

/** All but one branch, as the frames of one entrance come there. */
function without(common: Common, branch: Id, entered: readonly Entered[]): LinkReach {
  const isOther = ({ part }: { readonly part?: Part }): boolean => part?.branch !== branch;
  return {
    touches: common.touches.filter(isOther).map((touch) => placed(touch, entered)),
    points: common.points.filter(isOther).map((point) => placed(point, entered)),
    stops: common.stops.filter(isOther).map((stop) => placed(stop, entered)),
    looked: [...common.lookedBy].flatMap(([by, ids]) => (by === branch ? [] : [...ids])),
  };
}

type Placeable = { readonly trail?: Trail; readonly sentAt: Id; readonly part?: Part };

/** What is shared as one entrance has it; few ways are ever asked for, so each is put together when it is. */
function placed<Kind extends Placeable>(shared: Kind, entered: readonly Entered[]): Kind {
  const before = entered[shared.part?.domain ?? 0]?.wave;
  if (before === undefined) throw new Error("a part of a shared reach without its domain");
  const { trail, sentAt } = before;
  return {
    ...shared,
    sentAt,
    get trail(): Trail {
      return shared.trail === undefined ? trail : follow(trail, shared.trail);
    },
  };
}
