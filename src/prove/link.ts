/**
 * Directed reach over the link layer: where frames can get to that enter at some attachments, or leave by an interface,
 * breadth first over sets of tags. What was visited is kept as sets, so each tag crosses each place once and every way found is a
 * shortest one. Reserved group addresses do not matter: no stack takes IP from them.
 */
import {
  EMPTY_RANGES,
  intersectRanges,
  type Ranges,
  rangesContain,
  single,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Bridge, Pick as Choosing, DropReason, Id } from "../network/index.ts";
import type { Atlas, BridgePlace, Leg } from "./atlas.ts";
import {
  ANY_TAGS,
  type BridgeExit,
  type BridgeStop,
  type Domain,
  enter,
  isEmptyTags,
  leave,
  membersOf,
  type TagSet,
} from "./bridge.ts";
import { stepped, type Trail } from "./trail.ts";

/** An interface that frames get to. */
export type Touch = {
  readonly leg: Leg;
  readonly trail: Trail;
  /** Attachment where they entered; for frames of an interface, its own. */
  readonly sentAt: Id;
  /** Tags on the frame as it was sent, outermost first. */
  readonly tags: readonly number[];
};

/** A part of a broadcast domain that frames get to. */
export type Point = {
  /** Bridge or attachment. */
  readonly at: Id;
  /** VLANs inside a bridge, tags at an attachment; empty: untagged, or all of a bridge that ignores tags. */
  readonly vlans: Ranges;
  /** Absent: they begin here. */
  readonly trail?: Trail;
  readonly sentAt: Id;
  readonly tags: readonly number[];
};

/** Frames that go no further. */
export type LinkStop = {
  readonly at: Id;
  readonly reason: DropReason;
  readonly origin: Origin;
  readonly trail: Trail;
  readonly sentAt: Id;
  readonly tags: readonly number[];
  /** The other side would have taken them: a gap in a network rather than its edge. */
  readonly gap: boolean;
  /** Copies of a flood that find nobody: worth telling only where there is nothing else to tell. */
  readonly idle: boolean;
};

/** Where frames get to. */
export type LinkReach = {
  /** Each interface once, nearest first. */
  readonly touches: readonly Touch[];
  readonly points: readonly Point[];
  readonly stops: readonly LinkStop[];
  /** Parts that were looked at. */
  readonly looked: readonly Id[];
};

/** Frames on their way. */
type Wave = {
  readonly tags: TagSet;
  readonly trail: Trail | undefined;
  readonly sentAt: Id;
  /** Tags that the sender put in front of those of `tags`, and that bridges took off. */
  readonly taken: readonly number[];
  /** The outer tag was put on by a bridge, not by the sender. */
  readonly given: boolean;
};

type Arrival = { readonly at: Id; readonly wave: Wave; readonly isEntrance: boolean };

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
    if (!isOwn) this.#notePoint(at, wave.tags.vlans, wave);
    this.depart(at, wave);
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
    const bond = this.#atlas.bondOf.get(at);
    if (isEntrance && this.#atlas.ports.get(at)?.enabled === false)
      return this.#stop(at, "link-down", this.#originOf(at), wave);
    if (bond !== undefined) return this.#enterBond(at, bond, wave, isEntrance);
    const tags = this.#unseen(`in ${at}`, wave.tags);
    if (tags === undefined) return;
    this.#looked.add(at);
    const trail = stepped(wave.trail, at, "enter", this.#originOf(at));
    this.#take(at, { ...wave, tags, trail });
  }

  /** An idle member drops what arrives; whoever sits at the far end can wake it by speaking the bond's protocol. */
  #enterBond(at: Id, bond: Id, wave: Wave, isEntrance: boolean): void {
    const known = this.#atlas.bonds.get(bond);
    if (known === undefined) throw new Error(`the description has no bond \`${bond}\``);
    this.#looked.add(at).add(bond);
    const wakes = isEntrance && (known.bond.mode.kind !== "active-backup" || known.settled.takes.length === 0);
    if (!known.settled.takes.includes(at) && !wakes) return this.#stop(at, "member-idle", known.settled.origin, wave);
    this.arrive({ at: bond, wave, isEntrance: false });
  }

  /** Frames not seen at a place before; undefined: none. */
  #unseen(place: string, tags: TagSet): TagSet | undefined {
    const key = `${place} ${tags.inner}`;
    const seen = this.#seen.get(key);
    this.#seen.set(key, seen === undefined ? tags : bothTags(seen, tags));
    const fresh =
      seen === undefined
        ? tags
        : { ...tags, untagged: tags.untagged && !seen.untagged, vlans: subtractRanges(tags.vlans, seen.vlans) };
    return isEmptyTags(fresh) ? undefined : fresh;
  }

  #originOf(at: Id): Origin {
    const part = this.#atlas.ports.get(at) ?? this.#atlas.bonds.get(at)?.bond ?? this.#atlas.bridgePortAt.get(at)?.port;
    if (part === undefined) throw new Error(`the description has no attachment \`${at}\``);
    return part.origin;
  }

  /** An interface with the frame's tag, else a bridge port, else an interface without a tag (kernel fact 36). */
  #take(at: Id, wave: Wave & { readonly trail: Trail }): void {
    const legs = this.#atlas.legsOn.get(at) ?? [];
    let { tags } = wave;
    for (const leg of legs) {
      const { vlan } = leg.interface;
      if (vlan === undefined) continue;
      const mine = intersectRanges(tags.vlans, single(BigInt(vlan)));
      if (mine.length > 0) this.#handTo(leg, mine, wave);
      tags = { ...tags, vlans: subtractRanges(tags.vlans, mine) };
    }
    if (isEmptyTags(tags)) return;
    const place = this.#atlas.bridgePortAt.get(at);
    const plain = legs.find((leg) => leg.interface.vlan === undefined);
    if (place !== undefined && !place.port.own) return this.#enterBridge(place, { ...wave, tags });
    if (plain !== undefined && tags.untagged) this.#handTo(plain, EMPTY_RANGES, wave);
    if (plain === undefined) this.#stop(at, "no-taker", this.#originOf(at), { ...wave, tags });
  }

  #handTo(leg: Leg, vlans: Ranges, wave: Wave & { readonly trail: Trail }): void {
    const { id, on, origin } = leg.interface;
    this.#looked.add(leg.node.stack.id);
    const tags: TagSet = { untagged: vlans.length === 0, vlans, inner: wave.tags.inner };
    this.#notePoint(on, vlans, wave);
    if (!leg.settled.up) return this.#stop(id, "interface-down", origin, { ...wave, tags });
    if (this.#touches.has(id)) return;
    this.#touches.set(id, { leg, trail: wave.trail, sentAt: wave.sentAt, tags: tagsOf(wave, vlans) });
  }

  #notePoint(at: Id, vlans: Ranges, { trail, sentAt, ...wave }: Wave): void {
    this.#points.push({ at, vlans, sentAt, tags: tagsOf(wave, vlans), ...(trail === undefined ? {} : { trail }) });
  }

  // -- bridges -----------------------------------------------------------------------------------------------------

  #enterBridge({ bridge, port }: BridgePlace, wave: Wave): void {
    this.#looked.add(bridge.id);
    const blocks = this.#atlas.blocks.get(bridge.id) ?? NO_BLOCKS;
    const { domains, refused } = enter(bridge, port.id, wave.tags, blocks);
    for (const stop of refused) this.#stopInBridge(bridge, stop, wave, false);
    for (const domain of domains) this.#crossDomain(bridge, port.id, domain, wave);
  }

  #crossDomain(bridge: Bridge, ingress: Id, domain: Domain, wave: Wave): void {
    const calm = this.#outsideStorms(bridge, domain, wave);
    if (calm === undefined) return;
    const detail = domain.vlans === undefined ? `from ${wave.sentAt}` : `VLAN ${namesOf(calm.vlans ?? [])}`;
    const did = domain.vlans === undefined ? "ignore-tags" : "classify";
    const trail = stepped(wave.trail, bridge.id, did, domain.origin, detail);
    const inside = { ...wave, trail, tags: calm.came };
    this.#notePoint(bridge.id, calm.vlans ?? EMPTY_RANGES, inside);
    const { exits, kept } = leave(bridge, ingress, calm, this.#atlas.blocks.get(bridge.id) ?? NO_BLOCKS);
    for (const stop of kept) this.#stopInBridge(bridge, stop, inside, true);
    for (const exit of exits) {
      const out = stepped(trail, bridge.id, "lookup", exit.origin, exit.port.on);
      const next: Wave = { tags: exit.tags, trail: out, sentAt: wave.sentAt, ...sentTags(wave, calm, exit) };
      if (exit.port.own) this.arrive({ at: exit.port.on, wave: next, isEntrance: false });
      else this.depart(exit.port.on, next);
    }
  }

  #outsideStorms(bridge: Bridge, domain: Domain, wave: Wave): Domain | undefined {
    for (const storm of this.#atlas.settled.storms) {
      for (const hit of storm.domains) {
        if (hit.bridge !== bridge.id) continue;
        const vlans = hit.vlan === undefined ? (domain.vlans ?? EMPTY_RANGES) : single(BigInt(hit.vlan));
        const isAll = domain.vlans === undefined || subtractRanges(domain.vlans, vlans).length === 0;
        if (isAll || intersectRanges(domain.vlans ?? EMPTY_RANGES, vlans).length > 0)
          this.#stop(bridge.id, "storm", storm.origin, wave);
        if (isAll) return undefined;
        domain = { ...domain, vlans: subtractRanges(domain.vlans ?? EMPTY_RANGES, vlans) };
      }
    }
    return domain;
  }

  #stopInBridge(bridge: Bridge, stop: BridgeStop, wave: Wave, isInside: boolean): void {
    const port = bridge.ports.find((candidate) => candidate.id === stop.port);
    if (port === undefined) throw new Error(`\`${bridge.id}\` has no port \`${stop.port}\``);
    const gap = isInside && stop.reason === "not-member" && this.#wouldTake(port.on, stop.tags.vlans);
    // Where a network ends by design there is nothing to tell.
    if (isInside && stop.reason === "not-member" && !gap) return;
    this.#stop(port.on, stop.reason, stop.origin, { ...wave, tags: isInside ? wave.tags : stop.tags }, gap);
  }

  /** Whether the other side of an attachment carries one of these VLANs. */
  #wouldTake(at: Id, vlans: Ranges): boolean {
    const legs = this.#atlas.legsOn.get(at) ?? [];
    if (legs.some((leg) => leg.interface.vlan !== undefined && overlaps(vlans, leg.interface.vlan))) return true;
    return this.#peersOf(at).some((peer) => {
      const into = this.#atlas.bondOf.get(peer) ?? peer;
      const there = this.#atlas.bridgePortAt.get(into);
      if (there !== undefined && intersectRanges(membersOf(there.port), vlans).length > 0) return true;
      return (this.#atlas.legsOn.get(into) ?? []).some(
        ({ interface: leg }) => leg.vlan !== undefined && overlaps(vlans, leg.vlan),
      );
    });
  }

  // -- out ---------------------------------------------------------------------------------------------------------

  /** Frames leave by an attachment. */
  depart(at: Id, wave: Wave): void {
    const place = this.#atlas.bridgePortAt.get(at);
    if (place?.port.own === true) return this.#enterBridge(place, wave);
    const tags = this.#unseen(`out ${at}`, wave.tags);
    if (tags === undefined) return;
    this.#looked.add(at);
    const bond = this.#atlas.bonds.get(at);
    if (bond === undefined) return this.#departPort(at, { ...wave, tags });
    const { sends, origin } = bond.settled;
    if (sends.length === 0) return this.#stop(at, "link-down", origin, wave);
    for (const member of this.#distinct(sends)) {
      const pick = this.#memberPick(at, member, sends);
      this.#departPort(member, { ...wave, tags }, pick);
    }
  }

  /** One member is enough where all of them lead to the same place. */
  #distinct(members: readonly Id[]): readonly Id[] {
    const [first] = members;
    const places = new Set(members.map((member) => this.#farSideOf(member)));
    return places.size === 1 && first !== undefined ? [first] : members;
  }

  #farSideOf(member: Id): string {
    return this.#peersOf(member)
      .map((peer) => {
        const bond = this.#atlas.bondOf.get(peer);
        if (bond === undefined) return peer;
        return this.#atlas.bonds.get(bond)?.settled.takes.includes(peer) === true ? bond : `${peer} idle`;
      })
      .join(" ");
  }

  #memberPick(bond: Id, member: Id, sends: readonly Id[]): Choosing | undefined {
    return this.#distinct(sends).length > 1 ? { choice: `${bond}/member`, option: member } : undefined;
  }

  #departPort(at: Id, wave: Wave, pick?: Choosing): void {
    this.#looked.add(at);
    const port = this.#atlas.ports.get(at);
    if (port === undefined) throw new Error(`the description has no port \`${at}\``);
    const left: Wave = { ...wave, trail: stepped(wave.trail, at, "leave", port.origin, "", pick) };
    const links = this.#atlas.linksAt.get(at) ?? [];
    for (const link of links) this.#looked.add(link.id);
    const [first] = links;
    if (!port.enabled) return this.#stop(at, "link-down", port.origin, wave);
    if (first === undefined) return this.#stop(at, "nobody-connected", port.origin, wave);
    const peers = this.#peersOf(at);
    if (peers.length === 0) return this.#stop(at, "link-down", first.origin, wave);
    for (const peer of peers) this.arrive({ at: peer, wave: left, isEntrance: false });
  }

  /** Ports that hear what a port says: over live links, several of which on one port make a hub. */
  #peersOf(at: Id): readonly Id[] {
    const heard = new Set([at]);
    // A set is walked in the order of adding, what is added on the way included.
    for (const end of heard) {
      if (!this.#isUp(end)) continue;
      for (const link of this.#atlas.linksAt.get(end) ?? []) {
        if (this.#atlas.down.has(link.id)) continue;
        for (const other of link.ends) if (this.#isUp(other)) heard.add(other);
      }
    }
    heard.delete(at);
    return [...heard];
  }

  #isUp(port: Id): boolean {
    return !this.#atlas.down.has(port) && this.#atlas.ports.get(port)?.enabled === true;
  }

  #stop(at: Id, reason: DropReason, origin: Origin, wave: Wave, gap = false): void {
    const { sentAt } = wave;
    const trail = wave.trail ?? stepped(undefined, at, "enter", this.#originOf(at));
    const tags = tagsOf(wave, wave.tags.untagged ? EMPTY_RANGES : wave.tags.vlans);
    this.#stops.push({ at, reason, origin, trail, sentAt, tags, gap, idle: IDLE.has(reason) });
  }
}

const IDLE: ReadonlySet<DropReason> = new Set(["nobody-connected", "no-taker"]);
const NO_BLOCKS: ReadonlyMap<Id, Origin> = new Map();

function bothTags(a: TagSet, b: TagSet): TagSet {
  return { untagged: a.untagged || b.untagged, vlans: unionRanges(a.vlans, b.vlans), inner: a.inner };
}

function overlaps(vlans: Ranges, vlan: number): boolean {
  return intersectRanges(vlans, single(BigInt(vlan))).length > 0;
}

/** What the sender had to put on a frame that leaves a bridge so. */
function sentTags(wave: Wave, { vlans, came }: Domain, exit: BridgeExit): Pick<Wave, "taken" | "given"> {
  const { taken, given } = wave;
  if (vlans === undefined) return { taken, given };
  const isPlain = came.untagged || rangesContain(came.vlans, 0n);
  if (!exit.bare) return isPlain ? { taken: [...taken, ...priority(came)], given: true } : { taken, given };
  const put = isPlain ? priority(came) : given ? [] : [lowestOf(exit.inside)];
  return { taken: [...taken, ...put], given: false };
}

/** The priority tag, where there was one. */
function priority(came: TagSet): readonly number[] {
  return came.untagged ? [] : [0];
}

function lowestOf(vlans: Ranges): number {
  return Number(vlans[0]?.[0] ?? 0n);
}

/** Tags of one frame of a wave as it was sent. */
function tagsOf({ taken, given }: Omit<Wave, "trail" | "sentAt">, vlans: Ranges): readonly number[] {
  return vlans.length === 0 || given ? taken : [...taken, lowestOf(vlans)];
}

function namesOf(vlans: Ranges): string {
  return vlans.map(([low, high]) => (low === high ? `${low}` : `${low}-${high}`)).join(", ");
}
