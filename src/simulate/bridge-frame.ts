/**
 * One frame through one bridge: the steps of its data, in their order, each a function of its own. Nothing is changed;
 * what was learned is handed in as a question, what is to be learned comes out.
 */
import { type Hardware, isMulticastHardware } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { BridgeStep, DropReason, Member } from "../network/index.ts";
import { BOOT_REPLY, type Frame, frameLength, type Tag, TPID_CUSTOMER } from "../wire/index.ts";
import { type BridgePlan, type BridgePortPlan, memberOf } from "./plan.ts";

/** Why a frame, or one copy of it, goes no further. */
export type Stop =
  | {
      /** Why. */
      readonly reason: DropReason;
      /** The line that decides. */
      readonly origin: Origin;
    }
  | {
      /** What nobody knows. */
      readonly note: string;
      /** The line that decides. */
      readonly origin: Origin;
    };

/** A copy of a frame at a port of the bridge. */
export type BridgeExit = {
  /** The port. */
  readonly port: BridgePortPlan;
  /** As it leaves there. */
  readonly frame: Frame;
  /** The membership by which it leaves; absent where tags are ignored. */
  readonly member?: Member;
  /** It does not leave after all. */
  readonly stop?: Stop;
};

/** What became of a frame in a bridge. */
export type BridgeCrossing = {
  /** Its VLAN; -1 where tags are ignored; absent: it was stopped before that was known. */
  readonly vlan?: number;
  /** Why it has that VLAN. */
  readonly because?: Origin;
  /** Its source is to be learned on the ingress port. */
  readonly learns: boolean;
  /** It goes to all ports, since it is for a group or its destination is not known. */
  readonly floods: boolean;
  /** It ended as a whole. */
  readonly stop?: Stop;
  /** Copies at other ports, in their order. */
  readonly exits: readonly BridgeExit[];
};

/** What the bridge does not decide alone. */
export type BridgeQuestions = {
  /** Where a station was last heard in a VLAN. */
  readonly find: (vlan: number, hardware: Hardware) => BridgePortPlan | undefined;
  /** The habit taken where it is unknown what becomes of a reserved group; undefined: not picked. */
  readonly habit: (bridge: BridgePlan) => "pass" | "eat" | undefined;
};

type Working = {
  readonly bridge: BridgePlan;
  readonly ingress: BridgePortPlan;
  readonly questions: BridgeQuestions;
  frame: Frame;
  vlan: number | undefined;
  because: Origin | undefined;
  /** Tag that came in, for its priority. */
  tag: Tag | undefined;
  learns: boolean;
  floods: boolean;
  obeysTree: boolean;
  exits: BridgeExit[];
};

/** IEEE 802.1Q table 8-1: 01-80-C2-00-00-00 to -0F are never forwarded by a bridge of the kind they are for. */
const RESERVED_GROUPS = 0x0180c2000000n;
const SERVICE_HEADER = 4; // bytes of one tag
const ETHERNET_OVERHEAD = 18; // header and check sequence, without a tag (kernel fact 49)

/** Takes a frame through the steps of a bridge. */
export function bridgeFrame(ingress: BridgePortPlan, frame: Frame, questions: BridgeQuestions): BridgeCrossing {
  const { bridge } = ingress;
  const working: Working = {
    bridge,
    ingress,
    questions,
    frame,
    vlan: undefined,
    because: undefined,
    tag: undefined,
    learns: false,
    floods: false,
    obeysTree: false,
    exits: [],
  };
  for (const step of bridge.bridge.steps) {
    const stop = perform(working, step);
    if (stop !== undefined) return { ...crossing(working, []), stop };
  }
  return crossing(working, working.exits);
}

/** Hot: written out, since a spread that adds fields costs ten times as much. */
function crossing({ vlan, because, learns, floods }: Working, exits: BridgeCrossing["exits"]): BridgeCrossing {
  if (vlan === undefined) return { learns, floods, exits };
  return because === undefined ? { vlan, learns, floods, exits } : { vlan, because, learns, floods, exits };
}

function perform(working: Working, step: BridgeStep): Stop | undefined {
  switch (step.op) {
    case "reserved":
      return reserved(working, step);
    case "tree":
      return tree(working);
    case "admit":
      return admit(working);
    case "classify":
      return classify(working);
    case "ignore-tags":
      return ignoreTags(working, step);
    case "ingress-member":
      return ingressMember(working);
    case "lease-guard":
      return leaseGuard(working);
    case "learn":
      return learn(working);
    case "lookup":
      return lookUp(working, step);
    case "isolation":
      return stopExits(working, isolated);
    case "egress-member":
      return egressMember(working);
    case "tag":
      return putTags(working);
    case "fit":
      return stopExits(working, tooBig);
  }
}

function reserved(working: Working, step: Extract<BridgeStep, { readonly op: "reserved" }>): Stop | undefined {
  const { destination } = working.frame;
  if (destination >> 4n !== RESERVED_GROUPS >> 4n) return undefined;
  const stated = destination === RESERVED_GROUPS ? step.spanningTree : step.slow;
  const habit = stated === "unknown" ? working.questions.habit(working.bridge) : stated;
  if (habit === "pass") return undefined;
  if (habit === "eat") return { reason: "reserved-group", origin: step.origin };
  return { note: "it is not known whether this switch passes frames of a reserved group", origin: step.origin };
}

function tree(working: Working): Stop | undefined {
  working.obeysTree = true;
  const { blocked } = working.ingress;
  return blocked && { reason: "tree-blocked", origin: blocked.origin };
}

/** The outer customer tag; others count as payload (kernel fact 34). */
function outerTag(frame: Frame): Tag | undefined {
  const [tag] = frame.tags;
  return tag?.tpid === TPID_CUSTOMER ? tag : undefined;
}

function admit({ frame, ingress }: Working): Stop | undefined {
  const { kinds, origin } = ingress.port.admit;
  const tag = outerTag(frame);
  const kind = tag === undefined || tag.vlan === 0 ? "untagged" : "tagged";
  return kinds === "all" || kinds === kind ? undefined : { reason: "kind-not-admitted", origin };
}

function classify(working: Working): Stop | undefined {
  const { frame, ingress } = working;
  const tag = outerTag(frame);
  if (tag !== undefined) {
    working.tag = tag;
    working.frame = { ...frame, tags: frame.tags.slice(1) };
  }
  const { vlan, origin } = ingress.port.untagged;
  if (tag !== undefined && tag.vlan !== 0) {
    working.vlan = tag.vlan;
    working.because = memberOf(ingress, tag.vlan)?.origin ?? ingress.port.otherwise;
  } else {
    if (vlan === "refused") return { reason: "no-port-vlan", origin };
    working.vlan = vlan;
    working.because = origin;
  }
  return undefined;
}

function ignoreTags(working: Working, step: BridgeStep): Stop | undefined {
  working.vlan = -1;
  working.because = step.origin;
  return undefined;
}

/** A storm meets what the port let into the VLAN, and nothing that it refused. */
function learn(working: Working): Stop | undefined {
  const storm = inStorm(working);
  if (storm === undefined) working.learns = !isMulticastHardware(working.frame.source);
  return storm;
}

function inStorm({ bridge, vlan }: Working): Stop | undefined {
  const storm = bridge.storms.size === 0 ? undefined : (bridge.storms.get(vlan ?? -1) ?? bridge.storms.get(-1));
  return storm && { reason: "storm", origin: storm.origin };
}

function ingressMember({ ingress, vlan }: Working): Stop | undefined {
  if (vlan === undefined || vlan < 0 || !ingress.port.ingressFilter) return undefined;
  return memberOf(ingress, vlan) ? undefined : { reason: "not-member", origin: ingress.port.otherwise };
}

/** Only DHCP servers and relays send what a client or relay takes for an answer; that switches look into it is common practice. */
function leaseGuard({ ingress, frame }: Working): Stop | undefined {
  const { leaseGuard: origin } = ingress.port;
  return origin !== undefined && isLeaseAnswer(frame) ? { reason: "lease-guarded", origin } : undefined;
}

/** Whether a frame carries an answer of a DHCP server. */
export function isLeaseAnswer({ payload }: Frame): boolean {
  if (payload.kind !== "ip" || payload.packet.body.kind !== "udp") return false;
  const { data } = payload.packet.body;
  return data.kind === "dhcp" && data.message.operation === BOOT_REPLY;
}

function lookUp(working: Working, step: BridgeStep): Stop | undefined {
  const { bridge, ingress, frame } = working;
  const { destination } = frame;
  const isGroup = isMulticastHardware(destination);
  const known = isGroup ? undefined : knownPort(working);
  if (known === ingress) return { reason: "same-port", origin: step.origin };
  working.floods = known === undefined;
  const ports = known ? [known] : bridge.ports.filter((port) => port !== ingress);
  working.exits = ports.map((port) => leaving(working, port));
  return undefined;
}

/** An own address is known without learning it; a sender was learned before anybody is looked for (both seen on Linux 6.18). */
function knownPort({ bridge, ingress, frame, vlan, learns, questions }: Working): BridgePortPlan | undefined {
  const { source, destination } = frame;
  if (bridge.ownHardware.has(Number(destination))) return bridge.own;
  return learns && source === destination ? ingress : questions.find(vlan ?? -1, destination);
}

function leaving({ frame, obeysTree }: Working, port: BridgePortPlan): BridgeExit {
  if (!obeysTree || port.blocked === undefined) return { port, frame };
  return { port, frame, stop: { reason: "tree-blocked", origin: port.blocked.origin } };
}

/** Stops the exits for which there is a reason. */
function stopExits(working: Working, reason: (exit: BridgeExit, working: Working) => Stop | undefined): undefined {
  working.exits = working.exits.map((exit) => {
    const stop = exit.stop ?? reason(exit, working);
    return stop === undefined ? exit : { ...exit, stop };
  });
}

function isolated({ port }: BridgeExit, { ingress }: Working): Stop | undefined {
  const group = ingress.port.isolation;
  if (group === undefined || port.port.isolation !== group) return undefined;
  return { reason: "isolated", origin: port.port.origin };
}

function egressMember(working: Working): undefined {
  const { vlan } = working;
  if (vlan === undefined || vlan < 0) return;
  working.exits = working.exits.map((exit) => {
    const member = memberOf(exit.port, vlan);
    const { port, frame, stop } = exit;
    if (member !== undefined) return stop === undefined ? { port, frame, member } : { port, frame, member, stop };
    return { ...exit, stop: exit.stop ?? { reason: "not-member", origin: exit.port.port.otherwise } };
  });
}

function putTags(working: Working): undefined {
  const { vlan, tag } = working;
  if (vlan === undefined || vlan < 0) return;
  const priority = { priority: tag?.priority ?? 0, dropEligible: tag?.dropEligible ?? false };
  working.exits = working.exits.map((exit) => {
    if (exit.stop !== undefined || exit.member?.leaves === "untagged") return exit;
    const tags = [{ tpid: TPID_CUSTOMER, vlan, ...priority }, ...exit.frame.tags];
    return { ...exit, frame: { ...exit.frame, tags } };
  });
}

/** The outer tag does not count (kernel fact 49). */
function tooBig({ port, frame }: BridgeExit): Stop | undefined {
  const { mtu } = port.attachment;
  if (mtu === Infinity) return undefined;
  const bytes = frameLength(frame) + 4 - (frame.tags.length > 0 ? SERVICE_HEADER : 0);
  return bytes > mtu + ETHERNET_OVERHEAD ? { reason: "frame-too-big", origin: port.port.origin } : undefined;
}
