/**
 * Directed reach over the link layer: where frames can get to that enter at some attachments, or leave by an interface,
 * breadth first over sets of tags. What was visited is kept as sets, so each tag crosses each place once and every way
 * found is a shortest one. Reserved group addresses do not matter: no stack takes IP from them.
 */
import { EMPTY_RANGES, intersectRanges, type Ranges, single, subtractRanges, unionRanges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Bridge, BridgePort, DropReason, Id, Pick as Option } from "../network/index.ts";
import { type Atlas, type BridgePlace, type Leg, need } from "./atlas.ts";
import { ANY_TAGS, type BridgeStop, type Domain, enter, isEmptyTags, type TagSet } from "./bridge.ts";
import { stepped, type Trail } from "./trail.ts";
import { sentTags, tagsInside, tagsOf, type Wave } from "./wave.ts";
import { waysOut } from "./ways-out.ts";
import { distinctMembers, originOf, peersOf } from "./wiring.ts";

/** How a frame was sent. */
type Framed = {
  /** Attachment where it entered; of an interface's frames, its own. */
  readonly sentAt: Id;
  /** Tags on it, outermost first. */
  readonly tags: readonly number[];
};

/** An interface that frames get to. */
export type Touch = Framed & {
  /** The interface. */
  readonly leg: Leg;
  /** The way there. */
  readonly trail: Trail;
};

/** A part of a broadcast domain that frames get to. */
export type Point = {
  /** Bridge or attachment. */
  readonly at: Id;
  /** VLANs inside a bridge, tags at an attachment; empty: untagged, or all of a bridge that ignores tags. */
  readonly vlans: Ranges;
  /** Attachment where they entered; of an interface's frames, its own. */
  readonly sentAt: Id;
  /** Tags that the sender put on, outermost first, before the one that says the VLAN. */
  readonly taken: readonly number[];
  /** The sender put that one on too. */
  readonly chosen: boolean;
  /** Behind those stands whatever the sender chose. */
  readonly inner: boolean;
  /** Absent: they begin here. */
  readonly trail?: Trail;
};

/** Frames that go no further. */
export type LinkStop = Framed & {
  /** Attachment, interface or bridge. */
  readonly at: Id;
  /** Why. */
  readonly reason: DropReason;
  /** The line that decided. */
  readonly origin: Origin;
  /** The way there. */
  readonly trail: Trail;
  /** Copies of a flood that find nobody: worth telling only where there is nothing else to tell. */
  readonly idle: boolean;
};

/** Where frames get to. */
export type LinkReach = {
  /** Each interface once, nearest first. */
  readonly touches: readonly Touch[];
  /** Parts of broadcast domains. */
  readonly points: readonly Point[];
  /** Where they go no further. */
  readonly stops: readonly LinkStop[];
  /** Parts that were looked at. */
  readonly looked: readonly Id[];
};

/** Frames of any kind that enter at these attachments. */
export function reachFromEntrances(atlas: Atlas, entrances: readonly Id[]): LinkReach {
  const spread = new Spread(atlas);
  for (const at of entrances) {
    const wave: Wave = { tags: ANY_TAGS, trail: undefined, sentAt: at, taken: [], given: false };
    spread.arrive({ at, wave, isEntrance: true });
  }
  return spread.run();
}

/** Frames that an interface sends. */
export function reachFromLeg(atlas: Atlas, leg: Leg): LinkReach {
  const spread = new Spread(atlas);
  const { on, vlan } = leg.interface;
  const vlans = vlan === undefined ? EMPTY_RANGES : single(BigInt(vlan));
  const tags: TagSet = { untagged: vlan === undefined, vlans, inner: false };
  spread.sendFrom(on, { tags, trail: undefined, sentAt: on, taken: [], given: true });
  return spread.run();
}

type Arrival = { readonly at: Id; readonly wave: Wave; readonly isEntrance: boolean };
type Moved = Wave & { readonly trail: Trail };

const IDLE: ReadonlySet<DropReason> = new Set(["nobody-connected", "no-taker"]);
const NO_BLOCKS: ReadonlyMap<Id, Origin> = new Map();

class Spread {
  readonly #atlas: Atlas;
  readonly #queue: Arrival[] = [];
  readonly #seen = new Map<string, TagSet>();
  readonly #touches = new Map<Id, Touch>();
  readonly #points: Point[] = [];
  readonly #stops: LinkStop[] = [];
  readonly #looked = new Set<Id>();

  constructor(atlas: Atlas) {
    this.#atlas = atlas;
  }

  /** Frames come in at an attachment. */
  arrive(arrival: Arrival): void {
    this.#queue.push(arrival);
  }

  /** An interface sends frames. */
  sendFrom(at: Id, wave: Wave): void {
    const isOwn = this.#atlas.bridgePortAt.get(at)?.port.own === true;
    if (!isOwn) this.#notePoint(at, wave.tags.vlans, wave, wave);
    this.#depart(at, wave);
  }

  run(): LinkReach {
    // A queue is walked in the order of adding, what is added on the way included.
    for (const arrival of this.#queue) this.#enterAt(arrival);
    return {
      touches: [...this.#touches.values()],
      points: this.#points,
      stops: this.#stops,
      looked: [...this.#looked],
    };
  }

  // -- in ----------------------------------------------------------------------------------------------------------

  #enterAt({ at, wave, isEntrance }: Arrival): void {
    this.#looked.add(at);
    const isOff = isEntrance && this.#atlas.ports.get(at)?.enabled === false;
    const bond = this.#atlas.bondOf.get(at);
    if (isOff) this.#stop(at, "link-down", originOf(this.#atlas, at), wave);
    else if (bond !== undefined) this.#enterBond(at, bond, wave, isEntrance);
    else this.#enterHere(at, wave);
  }

  #enterHere(at: Id, wave: Wave): void {
    const tags = this.#unseen(`in ${at}`, wave.tags);
    if (tags === undefined) return;
    const trail = stepped(wave.trail, at, "enter", originOf(this.#atlas, at));
    this.#take(at, { ...wave, tags, trail });
  }

  /** An idle member drops what arrives; whoever sits at the far end can wake it by speaking the bond's protocol. */
  #enterBond(at: Id, id: Id, wave: Wave, isEntrance: boolean): void {
    const { bond, settled } = need(this.#atlas.bonds, id, "bond");
    this.#looked.add(id);
    const wakes = isEntrance && (bond.mode.kind !== "active-backup" || settled.takes.length === 0);
    if (settled.takes.includes(at) || wakes) this.arrive({ at: id, wave, isEntrance: false });
    else this.#stop(at, "member-idle", settled.origin, wave);
  }

  /** Frames not seen at a place before; undefined: none. */
  #unseen(place: string, tags: TagSet): TagSet | undefined {
    const key = `${place} ${tags.inner}`;
    const seen = this.#seen.get(key);
    this.#seen.set(key, seen === undefined ? tags : bothTags(seen, tags));
    if (seen === undefined) return tags;
    const untagged = tags.untagged && !seen.untagged;
    const fresh = { ...tags, untagged, vlans: subtractRanges(tags.vlans, seen.vlans) };
    return isEmptyTags(fresh) ? undefined : fresh;
  }

  /** An interface with the frame's tag, else a bridge port, else an interface without a tag (kernel fact 36). */
  #take(at: Id, wave: Moved): void {
    const legs = this.#atlas.legsOn.get(at) ?? [];
    const tags = this.#takeTagged(legs, wave);
    if (isEmptyTags(tags)) return;
    const place = this.#atlas.bridgePortAt.get(at);
    const plain = legs.find((leg) => leg.interface.vlan === undefined);
    if (place !== undefined && !place.port.own) this.#enterBridge(place, { ...wave, tags });
    else if (plain === undefined) this.#stop(at, "no-taker", originOf(this.#atlas, at), { ...wave, tags });
    else if (tags.untagged) this.#handTo(plain, EMPTY_RANGES, wave);
  }

  /** Hands frames to the interfaces with their tags; answers the others. */
  #takeTagged(legs: readonly Leg[], wave: Moved): TagSet {
    let { tags } = wave;
    for (const leg of legs) {
      const { vlan } = leg.interface;
      const mine = vlan === undefined ? EMPTY_RANGES : intersectRanges(tags.vlans, single(BigInt(vlan)));
      if (mine.length > 0) this.#handTo(leg, mine, wave);
      tags = { ...tags, vlans: subtractRanges(tags.vlans, mine) };
    }
    return tags;
  }

  #handTo(leg: Leg, vlans: Ranges, wave: Moved): void {
    const { id, on } = leg.interface;
    this.#looked.add(leg.node.stack.id);
    this.#notePoint(on, vlans, wave, wave);
    const { trail, sentAt } = wave;
    const touch: Touch = { leg, trail, sentAt, tags: tagsOf(wave, vlans) };
    // A frame that gets here shows that there is carrier, be it the cable that it was plugged in with.
    if (!this.#touches.has(id)) this.#touches.set(id, touch);
  }

  #notePoint(
    at: Id,
    vlans: Ranges,
    { trail, sentAt }: Wave,
    { taken, given, inner = false }: Pick<Wave, "taken" | "given"> & { readonly inner?: boolean },
  ): void {
    const chosen = !given && vlans.length > 0;
    this.#points.push({ at, vlans, sentAt, taken, chosen, inner, ...(trail === undefined ? {} : { trail }) });
  }

  // -- bridges -----------------------------------------------------------------------------------------------------

  #enterBridge({ bridge, port }: BridgePlace, wave: Wave): void {
    this.#looked.add(bridge.id);
    const blocks = this.#atlas.blocks.get(bridge.id) ?? NO_BLOCKS;
    const { domains, refused } = enter(bridge, port, wave.tags, blocks);
    for (const stop of refused) this.#stopAtPort(bridge, stop, { ...wave, tags: stop.tags });
    for (const domain of domains) {
      const calm = this.#outsideStorms(bridge, domain, wave);
      if (calm !== undefined) this.#cross(bridge, port, calm, wave);
    }
  }

  #cross(bridge: Bridge, ingress: BridgePort, domain: Domain, wave: Wave): void {
    const { vlans, origin, came } = domain;
    const detail = vlans === undefined ? `from ${ingress.id}` : `VLAN ${namesOf(vlans)}`;
    const trail = stepped(wave.trail, bridge.id, vlans === undefined ? "ignore-tags" : "classify", origin, detail);
    const inside = { ...wave, trail, tags: came };
    const inner = vlans !== undefined && domain.inner;
    this.#notePoint(bridge.id, vlans ?? EMPTY_RANGES, inside, { ...tagsInside(wave, domain), inner });
    const ways = waysOut(this.#atlas, bridge, ingress, domain);
    const put = { ...inside, ...tagsInside(wave, domain) };
    for (const { port, kept } of ways) {
      for (const { reason, origin: why, tags } of kept) this.#stop(port.on, reason, why, { ...put, tags });
    }
    for (const { port, exits } of ways) {
      for (const exit of exits) {
        const { tags } = exit;
        const out = stepped(trail, bridge.id, "lookup", exit.origin, port.on);
        const next: Wave = { tags, trail: out, sentAt: wave.sentAt, ...sentTags(wave, domain, exit) };
        if (port.own) this.arrive({ at: port.on, wave: next, isEntrance: false });
        else this.#depart(port.on, next);
      }
    }
  }

  #outsideStorms(bridge: Bridge, domain: Domain, wave: Wave): Domain | undefined {
    let calm = domain;
    for (const storm of this.#atlas.settled.storms) {
      for (const hit of storm.domains) {
        if (hit.bridge !== bridge.id) continue;
        const vlans = hit.vlan === undefined ? (calm.vlans ?? EMPTY_RANGES) : single(BigInt(hit.vlan));
        const isHit = calm.vlans === undefined || intersectRanges(calm.vlans, vlans).length > 0;
        if (isHit) this.#stop(bridge.id, "storm", storm.origin, wave);
        const left = subtractRanges(calm.vlans ?? EMPTY_RANGES, vlans);
        if (left.length === 0) return undefined;
        calm = { ...calm, vlans: left };
      }
    }
    return calm;
  }

  #stopAtPort(bridge: Bridge, { port, reason, origin }: BridgeStop, wave: Wave): void {
    this.#stop(attachmentOf(bridge, port), reason, origin, wave);
  }

  // -- out ---------------------------------------------------------------------------------------------------------

  #depart(at: Id, wave: Wave): void {
    const place = this.#atlas.bridgePortAt.get(at);
    const bond = this.#atlas.bonds.get(at);
    this.#looked.add(at);
    if (place?.port.own === true) {
      this.#enterBridge(place, wave);
      return;
    }
    const tags = this.#unseen(`out ${at}`, wave.tags);
    if (tags === undefined) return;
    if (bond === undefined) this.#departPort(at, { ...wave, tags });
    else this.#departBond(at, bond.settled, { ...wave, tags });
  }

  #departBond(
    bond: Id,
    { sends, origin }: { readonly sends: readonly Id[]; readonly origin: Origin },
    wave: Wave,
  ): void {
    if (sends.length === 0) this.#stop(bond, "link-down", origin, wave);
    const members = distinctMembers(this.#atlas, sends);
    for (const member of members) {
      const pick = members.length > 1 ? { choice: `${bond}/member`, option: member } : undefined;
      this.#departPort(member, wave, pick);
    }
  }

  #departPort(at: Id, wave: Wave, pick?: Option): void {
    this.#looked.add(at);
    const port = need(this.#atlas.ports, at, "port");
    const links = this.#atlas.linksAt.get(at) ?? [];
    for (const link of links) this.#looked.add(link.id);
    const plugged = links.filter((link) => !link.onDemand || !this.#atlas.down.has(link.id));
    const peers = peersOf(this.#atlas, at);
    const [first] = plugged;
    const trail = stepped(wave.trail, at, "leave", port.origin, "", pick);
    if (!port.enabled) this.#stop(at, "link-down", port.origin, wave);
    else if (first === undefined) this.#stop(at, "nobody-connected", port.origin, wave);
    else if (peers.length === 0) this.#stop(at, "link-down", first.origin, wave);
    for (const peer of peers) this.arrive({ at: peer, wave: { ...wave, trail }, isEntrance: false });
  }

  #stop(at: Id, reason: DropReason, origin: Origin, wave: Wave): void {
    const { sentAt } = wave;
    const trail = wave.trail ?? stepped(undefined, sentAt, "enter", originOf(this.#atlas, sentAt));
    const tags = tagsOf(wave, wave.tags.untagged ? EMPTY_RANGES : wave.tags.vlans);
    this.#stops.push({ at, reason, origin, trail, sentAt, tags, idle: IDLE.has(reason) });
  }
}

function attachmentOf(bridge: Bridge, id: Id): Id {
  const port = bridge.ports.find((candidate) => candidate.id === id);
  if (port === undefined) throw new Error(`\`${bridge.id}\` has no port \`${id}\``);
  return port.on;
}

function bothTags(a: TagSet, b: TagSet): TagSet {
  return { untagged: a.untagged || b.untagged, vlans: unionRanges(a.vlans, b.vlans), inner: a.inner };
}

function namesOf(vlans: Ranges): string {
  return vlans.map(([low, high]) => (low === high ? `${low}` : `${low}-${high}`)).join(", ");
}
