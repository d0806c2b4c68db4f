/**
 * A bridge over sets of tags: which frames of those that come in at a port enter which VLAN, and where they leave.
 * Steps are taken in the order of the description. Whoever sends a frame may flood it, so every other port is a way out.
 *
 * What stands behind the outer tag matters: a frame whose outer tag decides its VLAN and is taken off may show a second
 * one that the next switch believes (kernel fact 34). `inner` says whether the sender was free to put one there.
 */
import {
  EMPTY_RANGES,
  intersectRanges,
  type Ranges,
  rangeOf,
  rangesContain,
  single,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Bridge, BridgePort, BridgeStep, DropReason, Id, Member } from "../network/index.ts";

/** A set of frames by their outer tag. */
export type TagSet = {
  /** Frames without a tag are among them. */
  readonly untagged: boolean;
  /** VLANs of the outer tag, 0 for a priority tag. */
  readonly vlans: Ranges;
  /** Behind the outer tag stands whatever the sender chose, further tags included; else the packet itself. */
  readonly inner: boolean;
};

/** Every frame that a sender can make up. */
export const ANY_TAGS: TagSet = { untagged: true, vlans: rangeOf(0n, 4094n), inner: true };

const NOTHING: TagSet = { untagged: false, vlans: EMPTY_RANGES, inner: false };
const PRIORITY = single(0n);
const NUMBERED = rangeOf(1n, 4095n);

/** Frames in one or several domains of a bridge that all treats alike. */
export type Domain = {
  /** VLANs; absent: the only domain of a bridge that ignores tags. */
  readonly vlans?: Ranges;
  /** What stands behind the tag that was taken off (see `TagSet`). */
  readonly inner: boolean;
  /** The frames as they came in. */
  readonly came: TagSet;
  /** What let them in: a membership, or the port's VLAN. */
  readonly origin: Origin;
};

/** Frames that go no further. */
export type BridgeStop = {
  /** Bridge port where they end. */
  readonly port: Id;
  /** Why. */
  readonly reason: DropReason;
  /** The line that decided. */
  readonly origin: Origin;
  /** The frames: as they came in, or their VLANs inside. */
  readonly tags: TagSet;
};

/** Frames that come out of a port. */
export type BridgeExit = {
  /** Where they come out. */
  readonly port: BridgePort;
  /** As they come out. */
  readonly tags: TagSet;
  /** VLANs inside that leave so; empty where tags are ignored. */
  readonly inside: Ranges;
  /** Whether they leave without the tag of their VLAN. */
  readonly bare: boolean;
  /** The membership that lets them out. */
  readonly origin: Origin;
};

/** A bridge port that the spanning tree blocks, with the reason. */
export type Blocks = ReadonlyMap<Id, Origin>;

const NO_BLOCKS: Blocks = new Map();

/** Whether a set has no frame. */
export function isEmptyTags({ untagged, vlans }: TagSet): boolean {
  return !untagged && vlans.length === 0;
}

/** Everything that becomes of frames that come in at a port: disjoint pieces in, every way out. */
export type BridgeReach = {
  /** Frames that get in, by what treats them alike. */
  readonly domains: readonly Domain[];
  /** Ways out of each domain, in the same order. */
  readonly exits: readonly (readonly BridgeExit[])[];
  /** What is refused at the ingress port. */
  readonly refused: readonly BridgeStop[];
  /** What a domain is kept from, in the same order. */
  readonly kept: readonly (readonly BridgeStop[])[];
};

/** What a bridge does with frames that come in at one of its ports. */
export function bridgeReach(bridge: Bridge, ingress: Id, tags: TagSet, blocks: Blocks = NO_BLOCKS): BridgeReach {
  const port = portOf(bridge, ingress);
  const { domains, refused } = enter(bridge, port, tags, blocks);
  const left = domains.map((domain) => leave(bridge, port, domain, blocks));
  return { domains, refused, exits: left.map(({ exits }) => exits), kept: left.map(({ kept }) => kept) };
}

// -- in ------------------------------------------------------------------------------------------------------------

type Entering = {
  readonly port: BridgePort;
  frames: TagSet;
  domains: Domain[];
  readonly refused: BridgeStop[];
};

/** Takes the steps up to `lookup`. */
export function enter(
  bridge: Bridge,
  port: BridgePort,
  tags: TagSet,
  blocks: Blocks,
): { readonly domains: readonly Domain[]; readonly refused: readonly BridgeStop[] } {
  const state: Entering = { port, frames: tags, domains: [], refused: [] };
  const blocked = blocks.get(port.id);
  for (const step of bridge.steps) {
    if (step.op === "lookup") break;
    takeEntryStep(step, state, blocked);
  }
  if (!isEmptyTags(state.frames)) ignoreTags(state, bridge.origin);
  return { domains: state.domains, refused: state.refused };
}

function portOf(bridge: Bridge, id: Id): BridgePort {
  const port = bridge.ports.find((candidate) => candidate.id === id);
  if (port === undefined) throw new Error(`\`${bridge.id}\` has no port \`${id}\``);
  return port;
}

function takeEntryStep(step: BridgeStep, state: Entering, blocked: Origin | undefined): void {
  switch (step.op) {
    case "tree":
      if (blocked !== undefined) refuse(state, state.frames, "tree-blocked", blocked);
      return;
    case "admit":
      admit(state);
      return;
    case "classify":
      classify(state);
      return;
    case "ignore-tags":
      ignoreTags(state, step.origin);
      return;
    case "ingress-member":
      if (state.port.ingressFilter) filterIngress(state);
      return;
    default:
      return;
  }
}

/** Takes frames out of those that enter. */
function refuse(state: Entering, tags: TagSet, reason: DropReason, origin: Origin): void {
  if (isEmptyTags(tags)) return;
  state.refused.push({ port: state.port.id, reason, origin, tags });
  state.frames = {
    ...state.frames,
    untagged: state.frames.untagged && !tags.untagged,
    vlans: subtractRanges(state.frames.vlans, tags.vlans),
  };
}

/** Untagged and priority-tagged frames are one kind. */
function admit(state: Entering): void {
  const { kinds, origin } = state.port.admit;
  const { frames } = state;
  if (kinds === "all") return;
  const refused =
    kinds === "tagged" ? plain(frames) : { ...frames, untagged: false, vlans: intersectRanges(frames.vlans, NUMBERED) };
  refuse(state, refused, "kind-not-admitted", origin);
}

/** The untagged and priority-tagged ones. */
function plain(frames: TagSet): TagSet {
  return { ...frames, vlans: intersectRanges(frames.vlans, PRIORITY) };
}

function classify(state: Entering): void {
  const { untagged } = state.port;
  if (untagged.vlan === "refused") refuse(state, plain(state.frames), "no-port-vlan", untagged.origin);
  const { frames, port } = state;
  if (frames.untagged) classifyPlain(state, { ...NOTHING, untagged: true });
  const numbered = intersectRanges(frames.vlans, NUMBERED);
  const { inner } = frames;
  for (const member of port.members) {
    const vlans = intersectRanges(numbered, member.vlans);
    if (vlans.length > 0) state.domains.push(tagged(vlans, inner, member.origin));
  }
  const others = subtractRanges(numbered, membersOf(port));
  if (others.length > 0) state.domains.push(tagged(others, inner, port.otherwise));
  classifyPlain(state, { ...plain(frames), untagged: false });
  state.frames = NOTHING;
}

function tagged(vlans: Ranges, inner: boolean, origin: Origin): Domain {
  return { vlans, inner, origin, came: { untagged: false, vlans, inner } };
}

/** Only behind a priority tag can there be another one, so untagged frames come here apart. */
function classifyPlain({ port, domains }: Entering, came: TagSet): void {
  if (port.untagged.vlan === "refused" || isEmptyTags(came)) return;
  domains.push({
    vlans: single(BigInt(port.untagged.vlan)),
    inner: came.inner,
    origin: port.untagged.origin,
    came,
  });
}

function ignoreTags(state: Entering, origin: Origin): void {
  if (isEmptyTags(state.frames)) return;
  state.domains.push({ inner: state.frames.inner, came: state.frames, origin });
  state.frames = NOTHING;
}

function filterIngress(state: Entering): void {
  const members = membersOf(state.port);
  state.domains = state.domains.flatMap((domain) => {
    if (domain.vlans === undefined) return [domain];
    const isPlain = domain.came.untagged || rangesContain(domain.came.vlans, 0n);
    // Frames that got their VLAN from the port are told as they came, without its tag.
    const came = (vlans: Ranges): TagSet => (isPlain ? domain.came : { ...domain.came, vlans });
    const foreign = subtractRanges(domain.vlans, members);
    if (foreign.length > 0) state.refused.push(notMember(state.port, came(foreign)));
    const vlans = intersectRanges(domain.vlans, members);
    return vlans.length === 0 ? [] : [{ ...domain, vlans, came: came(vlans) }];
  });
}

const carried = new WeakMap<BridgePort, Ranges>();

/** VLANs that a port carries. */
export function membersOf(port: BridgePort): Ranges {
  const known = carried.get(port) ?? port.members.reduce((all, { vlans }) => unionRanges(all, vlans), EMPTY_RANGES);
  carried.set(port, known);
  return known;
}

function notMember(port: BridgePort, tags: TagSet): BridgeStop {
  return { port: port.id, reason: "not-member", origin: port.otherwise, tags };
}

// -- out -----------------------------------------------------------------------------------------------------------

/** Frames on their way out of a bridge. */
export type Leaving = {
  /** The bridge. */
  readonly bridge: Bridge;
  /** Isolation group of the port where they came in. */
  readonly isolation: string | undefined;
  /** Ports that the spanning tree blocks. */
  readonly blocks: Blocks;
  /** The frames. */
  readonly domain: Domain;
};

/** Frames at one port on their way out. */
export type Left = {
  /** What leaves. */
  readonly exits: readonly BridgeExit[];
  /** What does not. */
  readonly kept: readonly BridgeStop[];
};

/** Copies for a port on their way to it, with the membership that lets them out once that was asked. */
type Copy = { readonly vlans: Ranges; readonly member?: Member };

/** Takes the steps from `lookup` on, towards every port but the ingress. */
function leave(bridge: Bridge, ingress: BridgePort, domain: Domain, blocks: Blocks): Left {
  const { isolation } = ingress;
  const leaving: Leaving = { bridge, isolation, blocks, domain };
  const left = bridge.ports.flatMap((port) => (port === ingress ? [] : [leaveByPort(port, leaving)]));
  return { exits: left.flatMap(({ exits }) => exits), kept: left.flatMap(({ kept }) => kept) };
}

/** Everything in the domain, as it would be told at an exit. */
function insideOf({ vlans, inner, came }: Domain): TagSet {
  return vlans === undefined ? came : { untagged: false, vlans, inner };
}

/** Takes the steps from `lookup` on, towards one port. */
export function leaveByPort(port: BridgePort, leaving: Leaving): Left {
  const { bridge, domain } = leaving;
  const kept: BridgeStop[] = [];
  let copies: readonly Copy[] = [{ vlans: domain.vlans ?? EMPTY_RANGES }];
  let tags = false;
  for (const { op } of bridge.steps) {
    if (op === "tag") tags = true;
    if (op === "egress-member" && domain.vlans !== undefined) {
      copies = copies.flatMap((copy) => byMembership(port, copy, domain, kept));
      continue;
    }
    const stop = stopAt(op, port, leaving);
    if (stop === undefined || copies.length === 0) continue;
    kept.push(...copies.map(({ vlans }) => ({ ...stop, tags: { ...insideOf(domain), ...among(domain, vlans) } })));
    return { exits: [], kept };
  }
  return { exits: copies.map((copy) => exitOf(port, copy, domain, tags)), kept };
}

function among(domain: Domain, vlans: Ranges): Partial<TagSet> {
  return domain.vlans === undefined ? {} : { vlans };
}

/** What keeps all copies from a port. */
function stopAt(
  op: BridgeStep["op"],
  port: BridgePort,
  { isolation, blocks }: Leaving,
): Omit<BridgeStop, "tags"> | undefined {
  const blocked = blocks.get(port.id);
  if (op === "tree" && blocked !== undefined) return { port: port.id, reason: "tree-blocked", origin: blocked };
  if (op === "isolation" && isolation !== undefined && isolation === port.isolation)
    return { port: port.id, reason: "isolated", origin: port.origin };
  return undefined;
}

function byMembership(port: BridgePort, { vlans }: Copy, domain: Domain, kept: BridgeStop[]): readonly Copy[] {
  const foreign = subtractRanges(vlans, membersOf(port));
  if (foreign.length > 0) kept.push(notMember(port, { untagged: false, vlans: foreign, inner: domain.inner }));
  return port.members.flatMap((member) => {
    const here = intersectRanges(vlans, member.vlans);
    return here.length === 0 ? [] : [{ vlans: here, member }];
  });
}

function exitOf(port: BridgePort, { vlans, member }: Copy, domain: Domain, tags: boolean): BridgeExit {
  const origin = member?.origin ?? port.origin;
  if (domain.vlans === undefined) return { port, tags: domain.came, inside: EMPTY_RANGES, bare: false, origin };
  const leaves = tags && member?.leaves !== "untagged" ? "tagged" : "untagged";
  return { port, tags: outgoing(vlans, leaves, domain.inner), inside: vlans, bare: leaves === "untagged", origin };
}

/** Without its tag a frame is what stood behind it. */
function outgoing(vlans: Ranges, leaves: "tagged" | "untagged", inner: boolean): TagSet {
  if (leaves === "tagged") return { untagged: false, vlans, inner };
  return inner ? ANY_TAGS : { untagged: true, vlans: EMPTY_RANGES, inner: false };
}
