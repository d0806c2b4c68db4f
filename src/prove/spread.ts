/**
 * Directed reach over the link layer, breadth first over sets of tags. What was visited is kept as sets, so each tag
 * crosses each place once and every way found is a shortest one. Reserved group addresses do not matter: no stack takes IP
 * from them.
 */
import { EMPTY_RANGES, intersectRanges, type Ranges, single, subtractRanges, unionRanges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Bridge, BridgePort, DropReason, Id, Pick as Option } from "../network/index.ts";
import { choiceId } from "../settle/index.ts";
import { type Atlas, type BridgePlace, type Leg, need } from "./atlas.ts";
import { type BridgeStop, type Domain, enter, isEmptyTags, type TagSet } from "./bridge.ts";
import { takenInAt } from "./kept.ts";
import type { LinkReach, LinkStop, Point, Touch } from "./link.ts";
import { areOne, stepped, type Trail } from "./trail.ts";
import { type Part, sentTags, tagsInside, tagsOf, type Wave } from "./wave.ts";
import { type WayOut, waysOut } from "./ways-out.ts";
import { distinctMembers, originOf, peersOf } from "./wiring.ts";

/** Frames that come in at an attachment. */
export type Arrival = {
  /** The attachment. */
  readonly at: Id;
  /** The frames. */
  readonly wave: Wave;
  /** Somebody sends them right there. */
  readonly isEntrance: boolean;
};

/** Frames that have moved. */
export type Moved = Wave & {
  /** Their way. */
  readonly trail: Trail;
};

/** A domain of a bridge with its ways out. */
export type Crossing = {
  /** The bridge. */
  readonly bridge: Bridge;
  /** Where frames of the domain leave it. */
  readonly ways: readonly WayOut[];
  /** The domain. */
  readonly domain: Domain;
};

/** Frames in a domain of a bridge. */
export type Entered = {
  /** The domain. */
  readonly domain: Domain;
  /** The frames. */
  readonly wave: Moved;
};

/** Who follows a spread from outside. */
export type Watch = {
  /** Frames have entered a bridge; true: it sees to what becomes of them. */
  readonly takesOver: (spread: Spread, place: BridgePlace, entered: readonly Entered[]) => boolean;
  /** Frames of a part come to a place at an attachment. */
  readonly visits: (place: string, at: Id, part: Part) => void;
  /** The answer for a part rests on this. */
  readonly looks: (id: Id, part: Part) => void;
};

const IDLE: ReadonlySet<DropReason> = new Set(["nobody-connected", "no-taker"]);
const NO_BLOCKS: ReadonlyMap<Id, Origin> = new Map();

/** One spread, begun by `arrive`, `sendFrom` or `leaveBy`. */
export class Spread {
  readonly #atlas: Atlas;
  readonly #watch: Watch | undefined;
  readonly #taken: readonly Option[];
  readonly #queue: Arrival[] = [];
  readonly #seen = new Map<string, TagSet>();
  readonly #touches = new Map<Id, Touch>();
  readonly #points: Point[] = [];
  readonly #stops: LinkStop[] = [];
  readonly #looked = new Set<Id>();

  /**
   * `watch` is told of every place that parts of it visit, and takes over at the first bridge where it can. `taken`: options
   * that frames have to take where they meet the choice. Default: any.
   */
  constructor(atlas: Atlas, watch?: Watch, taken: readonly Option[] = []) {
    this.#atlas = atlas;
    this.#watch = watch;
    this.#taken = taken;
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

  /** Frames leave the first bridge, each by every port of it. */
  leaveBy({ bridge, ways, domain }: Crossing, wave: Moved, index: number): void {
    this.#leaveBridge({ bridge, ways, domain }, wave, (port) => ({ branch: port, domain: index }));
  }

  /** Takes in what became of frames elsewhere. */
  adopt({ touches, points, stops, looked }: LinkReach): void {
    for (const touch of touches) this.#noteTouch(touch);
    this.#points.push(...points);
    this.#stops.push(...stops);
    for (const part of looked) this.#looked.add(part);
  }

  /** Goes on until every frame has ended. */
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
    this.#look(at, wave);
    const isOff = isEntrance && this.#atlas.ports.get(at)?.enabled === false;
    const bond = this.#atlas.bondOf.get(at);
    if (isOff) this.#stop(at, "link-down", originOf(this.#atlas, at), wave);
    else if (bond !== undefined) this.#enterBond(at, bond, wave, isEntrance);
    else this.#enterHere(at, wave);
  }

  #enterHere(at: Id, wave: Wave): void {
    const tags = this.#unseen(`in ${at}`, at, wave);
    if (tags === undefined) return;
    const trail = stepped(wave.trail, at, "enter", originOf(this.#atlas, at));
    this.#take(at, { ...wave, tags, trail });
  }

  /** An idle member drops what arrives; whoever sits at the far end can wake it by speaking the bond's protocol. */
  #enterBond(at: Id, id: Id, wave: Wave, isEntrance: boolean): void {
    const { bond, settled } = need(this.#atlas.bonds, id, "bond");
    this.#look(id, wave);
    const wakes = isEntrance && (bond.mode.kind !== "active-backup" || settled.takes.length === 0);
    if (settled.takes.includes(at) || wakes) this.arrive({ at: id, wave, isEntrance: false });
    else this.#stop(at, "member-idle", settled.origin, wave);
  }

  /** Frames not seen at a place before; undefined: none. */
  #unseen(place: string, at: Id, { tags, part, passed = "" }: Wave): TagSet | undefined {
    if (part !== undefined) this.#watch?.visits(place, at, part);
    const key = `${place} ${tags.inner} ${passed}`;
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
    this.#look(leg.node.stack.id, wave);
    this.#notePoint(on, vlans, wave, wave);
    const { trail, sentAt, part } = wave;
    if (part !== undefined) this.#watch?.visits(id, id, part);
    this.#noteTouch({ leg, trail, sentAt, tags: tagsOf(wave, vlans), ...partOf(part) });
  }

  /** A frame that gets to an interface shows that there is carrier, be it the cable that it was plugged in with. */
  #noteTouch(touch: Touch): void {
    const { id } = touch.leg.interface;
    const known = this.#touches.get(id);
    const isTakenIn = ({ leg, trail }: Touch): boolean => takenInAt(this.#atlas, leg, trail) !== undefined;
    // Frames to it alone get there by this one.
    if (known === undefined || (isTakenIn(known) && !isTakenIn(touch))) this.#touches.set(id, touch);
  }

  #notePoint(
    at: Id,
    vlans: Ranges,
    { trail, sentAt, part }: Wave,
    { taken, given, inner = false }: Pick<Wave, "taken" | "given"> & { readonly inner?: boolean },
  ): void {
    const chosen = !given && vlans.length > 0;
    const way = trail === undefined ? {} : { trail };
    this.#points.push({ at, vlans, sentAt, taken, chosen, inner, ...way, ...partOf(part) });
  }

  #look(id: Id, { part }: Wave): void {
    if (part === undefined) this.#looked.add(id);
    else this.#watch?.looks(id, part);
  }

  // -- bridges -----------------------------------------------------------------------------------------------------

  #enterBridge({ bridge, port }: BridgePlace, wave: Wave): void {
    this.#look(bridge.id, wave);
    const blocks = this.#atlas.blocks.get(bridge.id) ?? NO_BLOCKS;
    const { domains, refused } = enter(bridge, port, wave.tags, blocks);
    for (const stop of refused) this.#stopAtPort(bridge, stop, { ...wave, tags: stop.tags });
    const calm = domains.flatMap((domain) => this.#outsideStorms(bridge, domain, wave) ?? []);
    const entered = calm.map((domain) => ({ domain, wave: this.#classify(bridge, port, domain, wave) }));
    if (this.#watch?.takesOver(this, { bridge, port }, entered) === true) return;
    for (const { domain, wave: inside } of entered) {
      const ways = waysOut(this.#atlas, bridge, port, domain);
      this.#leaveBridge({ bridge, ways, domain }, inside, () => wave.part);
    }
  }

  #classify(bridge: Bridge, ingress: BridgePort, domain: Domain, wave: Wave): Moved {
    const { vlans, origin, came } = domain;
    const detail = vlans === undefined ? `from ${ingress.id}` : `VLAN ${namesOf(vlans)}`;
    const trail = stepped(wave.trail, bridge.id, vlans === undefined ? "ignore-tags" : "classify", origin, detail);
    const inside = { ...wave, trail, tags: came };
    const inner = vlans !== undefined && domain.inner;
    this.#notePoint(bridge.id, vlans ?? EMPTY_RANGES, inside, { ...tagsInside(wave, domain), inner });
    return inside;
  }

  #leaveBridge({ bridge, ways, domain }: Crossing, wave: Moved, partAt: (port: Id) => Part | undefined): void {
    const put = { ...wave, ...tagsInside(wave, domain) };
    for (const { port, kept } of ways) {
      const part = partOf(partAt(port.id));
      for (const { reason, origin, tags } of kept) this.#stop(port.on, reason, origin, { ...put, ...part, tags });
    }
    for (const { port, exits } of ways) {
      const part = partOf(partAt(port.id));
      for (const exit of exits) {
        const trail = stepped(wave.trail, bridge.id, "lookup", exit.origin, port.on);
        const sent = sentTags(wave, domain, exit);
        const next: Wave = { tags: exit.tags, trail, sentAt: wave.sentAt, ...sent, ...passedOf(wave), ...part };
        if (port.own) this.arrive({ at: port.on, wave: next, isEntrance: false });
        else this.#depart(port.on, passing(next, bridge));
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
        if (isHit) this.#stop(bridge.id, "storm", storm.origin, { ...wave, tags: tagsInto(domain, vlans) });
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
    this.#look(at, wave);
    if (place?.port.own === true) {
      this.#enterBridge(place, wave);
      return;
    }
    const tags = this.#unseen(`out ${at}`, at, wave);
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
      const pick = members.length > 1 ? { choice: choiceId("bond-member", bond), option: member } : undefined;
      if (pick === undefined || areOne(this.#taken, [pick])) this.#departPort(member, wave, pick);
    }
  }

  #departPort(at: Id, wave: Wave, pick?: Option): void {
    this.#look(at, wave);
    const port = need(this.#atlas.ports, at, "port");
    const links = this.#atlas.linksAt.get(at) ?? [];
    for (const link of links) this.#look(link.id, wave);
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
    const { sentAt, part } = wave;
    const trail = wave.trail ?? stepped(undefined, sentAt, "enter", originOf(this.#atlas, sentAt));
    const tags = tagsOf(wave, wave.tags.untagged ? EMPTY_RANGES : wave.tags.vlans);
    this.#stops.push({ at, reason, origin, trail, sentAt, tags, idle: IDLE.has(reason), ...partOf(part) });
  }
}

/** Frames that have passed a bridge. */
function passing(wave: Wave, { id, ports }: Bridge): Wave {
  const { passed = "" } = wave;
  return ports.some(({ own }) => own) && !passed.includes(` ${id} `) ? { ...wave, passed: `${passed} ${id} ` } : wave;
}

function passedOf({ passed }: Wave): Pick<Wave, "passed"> {
  return passed === undefined ? {} : { passed };
}

function partOf(part: Part | undefined): { readonly part?: Part } {
  return part === undefined ? {} : { part };
}

function attachmentOf(bridge: Bridge, id: Id): Id {
  const port = bridge.ports.find((candidate) => candidate.id === id);
  if (port === undefined) throw new Error(`\`${bridge.id}\` has no port \`${id}\``);
  return port.on;
}

/** Tags with which frames come into some VLANs of a domain: those of the VLANs, else whatever the port makes of them. */
function tagsInto({ came }: Domain, vlans: Ranges): TagSet {
  const tagged = intersectRanges(came.vlans, vlans);
  return tagged.length === 0 ? came : { ...came, untagged: false, vlans: tagged };
}

function bothTags(a: TagSet, b: TagSet): TagSet {
  return { untagged: a.untagged || b.untagged, vlans: unionRanges(a.vlans, b.vlans), inner: a.inner };
}

function namesOf(vlans: Ranges): string {
  return vlans.map(([low, high]) => (low === high ? `${low}` : `${low}-${high}`)).join(", ");
}
