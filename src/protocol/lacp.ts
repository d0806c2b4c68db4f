/**
 * LACP on one member port (IEEE 802.1AX clause 6.4, from memory; timers and state bits of its YANG module): the receive
 * machine's states as records, with the periodic, transmit and mux machines folded in. Which ports of a bond belong
 * together is decided outside (`lacpCarriers`) and told to each port by a `select` event.
 */
import {
  LACP_ACTIVITY,
  LACP_AGGREGATION,
  LACP_COLLECTING,
  LACP_DEFAULTED,
  LACP_DISTRIBUTING,
  LACP_EXPIRED,
  LACP_SYNCHRONIZATION,
  LACP_TIMEOUT,
  type Lacpdu,
  type LacpPort,
} from "../wire/index.ts";
import { earliest, type Transition } from "./transition.ts";

/**
 * IEEE 802.1AX timers, in seconds: 1 and 30 between messages, 3 and 90 until a silent partner is given up, 2 until a port
 * that has found its partner is in step with it (Aggregate_Wait_Time; from memory, held to the kernel by tests).
 */
export const LACP_TIMERS = {
  fastPeriodicSeconds: 1,
  slowPeriodicSeconds: 30,
  shortTimeoutSeconds: 3,
  longTimeoutSeconds: 90,
  aggregateWaitSeconds: 2,
} as const;

/** Default of `actor-port-priority` (802.1AX YANG module). */
export const LACP_DEFAULT_PRIORITY = 0x8000;

/** What a port is told once; its state bits are computed. */
export type LacpSettings = {
  /** The port as it names itself. */
  readonly self: Omit<LacpPort, "state">;
  /** Sends unasked. */
  readonly active: boolean;
  /** Asks the partner to send each second. */
  readonly fast: boolean;
  /** Speaks although passive, as the kernel does (fact 42). */
  readonly passiveMayPair: boolean;
};

type Common = {
  /** The partner as heard, or its default: nobody. */
  readonly partner: LacpPort;
  /** Its bond counts it in. */
  readonly selected: boolean;
};

type Talking = Common & {
  /** When the next message is due; absent: none (both ends passive). */
  readonly sendAtMs?: number;
  /** Until then it waits whether others join with it; absent: it has. */
  readonly waitUntilMs?: number;
  /** It carried alone when its partner was heard, and does so while it waits. Default: it did not. */
  readonly wasAlone?: true;
};

/** The state of a port, named after the receive machine's. */
export type LacpState =
  | ({
      /** No link. */
      readonly state: "disabled";
    } & Common)
  | ({
      /** The partner went silent, or none was heard yet. */
      readonly state: "expired";
      /** When it is given up. */
      readonly untilMs: number;
    } & Talking)
  | ({
      /** There is no partner. */
      readonly state: "defaulted";
    } & Talking)
  | ({
      /** The partner was heard in time. */
      readonly state: "current";
      /** When its information runs out. */
      readonly untilMs: number;
    } & Talking);

const NOBODY: LacpPort = { systemPriority: 0, system: 0n, key: 0, portPriority: 0, port: 0, state: 0 };

/** A port without a link. */
export const DISABLED_LACP: LacpState = { state: "disabled", partner: NOBODY, selected: false };

/** What happens to a port. */
export type LacpEvent =
  | {
      readonly kind: "link";
      /** Whether the link is up now. */
      readonly up: boolean;
    }
  | {
      readonly kind: "received";
      /** What came in. */
      readonly lacpdu: Lacpdu;
    }
  | {
      readonly kind: "select";
      /** Whether the bond counts the port in. */
      readonly selected: boolean;
    }
  | { readonly kind: "timer" };

/** What a port wants done. */
export type LacpAction = {
  readonly do: "send";
  /** What is sent. */
  readonly lacpdu: Lacpdu;
};

type Outcome = Transition<LacpState, LacpAction>;
type Live = Exclude<LacpState, { readonly state: "disabled" }>;

/** When the port wants a `timer` event. */
export function lacpWakeMs(state: LacpState): number | undefined {
  if (state.state === "disabled") return undefined;
  return earliest(state.sendAtMs, state.waitUntilMs, "untilMs" in state ? state.untilMs : undefined);
}

/** Whether frames pass: the bond counts the port in, it has waited for others, and the partner agrees. */
export function lacpCarries(state: LacpState): boolean {
  if (state.state === "disabled" || state.waitUntilMs !== undefined) return false;
  return state.selected && (state.partner.state & LACP_SYNCHRONIZATION) !== 0;
}

/** Whether the port knows of nobody at its other end: none was heard yet, or it was given up. */
export function lacpIsAlone({ partner }: LacpState): boolean {
  return partner.system === NOBODY.system;
}

/** Whether frames pass though no partner agrees, where the bond lets a member carry alone. */
export function lacpCarriesAlone(state: LacpState): boolean {
  return state.state !== "disabled" && (lacpIsAlone(state) || state.wasAlone === true);
}

/** The partner that the bond's selection goes by; undefined: none is heard. */
export function lacpPartnerOf(state: LacpState): LacpPort | undefined {
  return state.state === "current" ? state.partner : undefined;
}

/** The port after an event. */
export function stepLacp(settings: LacpSettings, state: LacpState, event: LacpEvent, nowMs: number): Outcome {
  switch (event.kind) {
    case "link":
      return event.up ? enable(settings, state, nowMs) : { state: DISABLED_LACP, actions: [] };
    case "select":
      return onSelect(settings, state, event.selected, nowMs);
    case "received":
      return state.state === "disabled" ? { state, actions: [] } : onReceived(settings, state, event.lacpdu, nowMs);
    case "timer":
      return state.state === "disabled" ? { state, actions: [] } : onTimer(settings, state, nowMs);
  }
}

function outOfStep(partner: LacpPort): LacpPort {
  return { ...partner, state: partner.state & ~LACP_SYNCHRONIZATION };
}

/** A fresh port is `expired`: it has three seconds to hear somebody. */
function enable(settings: LacpSettings, state: LacpState, nowMs: number): Outcome {
  if (state.state !== "disabled") return { state, actions: [] };
  const untilMs = nowMs + LACP_TIMERS.shortTimeoutSeconds * 1000;
  return speak(settings, { state: "expired", partner: NOBODY, selected: false, untilMs }, nowMs);
}

function onSelect(settings: LacpSettings, state: LacpState, selected: boolean, nowMs: number): Outcome {
  if (state.selected === selected || state.state === "disabled") return { state, actions: [] };
  return speak(settings, { ...state, selected }, nowMs);
}

function onReceived(settings: LacpSettings, before: Live, lacpdu: Lacpdu, nowMs: number): Outcome {
  const timeout = settings.fast ? LACP_TIMERS.shortTimeoutSeconds : LACP_TIMERS.longTimeoutSeconds;
  const partner = partnerFrom(settings, lacpdu);
  const wait = isSamePort(partner, before.partner) ? {} : waitOf(before, nowMs);
  const state: Live = { ...before, ...wait, state: "current", partner, untilMs: nowMs + timeout * 1000 };
  const isKnown = String(comparable(lacpdu.partner)) === String(comparable(actorOf(settings, state)));
  return isKnown ? { state: planned(settings, state, before, nowMs), actions: [] } : speak(settings, state, nowMs);
}

function waitOf(before: Live, nowMs: number): Pick<Live, "waitUntilMs" | "wasAlone"> {
  // Seen of the kernel (6.1): a member that was let through by itself stays so until all who were found carry together.
  const alone = lacpIsAlone(before) && before.selected ? { wasAlone: true as const } : {};
  return { waitUntilMs: nowMs + LACP_TIMERS.aggregateWaitSeconds * 1000, ...alone };
}

function isSamePort(one: LacpPort, other: LacpPort): boolean {
  return one.system === other.system && one.key === other.key && one.port === other.port;
}

/** The partner counts as in step only when it speaks of this very port and one end is active. */
function partnerFrom(settings: LacpSettings, { actor, partner }: Lacpdu): LacpPort {
  const { self } = settings;
  const isMe = partner.system === self.system && partner.port === self.port && partner.key === self.key;
  const speaks = settings.active || settings.passiveMayPair || (actor.state & LACP_ACTIVITY) !== 0;
  return isMe && speaks ? actor : outOfStep(actor);
}

const COMPARED = LACP_ACTIVITY | LACP_TIMEOUT | LACP_AGGREGATION | LACP_SYNCHRONIZATION;

function comparable(port: LacpPort): readonly unknown[] {
  return [port.systemPriority, port.system, port.key, port.portPriority, port.port, port.state & COMPARED];
}

function onTimer(settings: LacpSettings, state: Live, nowMs: number): Outcome {
  if ("untilMs" in state && state.untilMs <= nowMs) return runOut(settings, state, nowMs);
  if ((state.waitUntilMs ?? Infinity) <= nowMs) {
    const { waitUntilMs: _, wasAlone: __, ...ready } = state;
    return speak(settings, ready, nowMs);
  }
  return (state.sendAtMs ?? Infinity) <= nowMs ? speak(settings, state, nowMs) : { state, actions: [] };
}

/** `current` becomes `expired`, out of step and asking fast; `expired` becomes `defaulted`. */
function runOut(settings: LacpSettings, state: Live, nowMs: number): Outcome {
  if (state.state === "expired") {
    const { partner: _, untilMs: __, ...rest } = state;
    return speak(settings, { ...rest, state: "defaulted", partner: NOBODY }, nowMs);
  }
  const silent = outOfStep(state.partner);
  const partner = { ...silent, state: silent.state | LACP_TIMEOUT };
  const untilMs = nowMs + LACP_TIMERS.shortTimeoutSeconds * 1000;
  return speak(settings, { ...state, state: "expired", partner, untilMs }, nowMs);
}

/** Sends at once, unless both ends are passive, and plans the next message. */
function speak(settings: LacpSettings, state: Live, nowMs: number): Outcome {
  const { sendAtMs: _, ...silent } = state;
  if (!mayTalk(settings, state)) return { state: silent, actions: [] };
  const next: Live = { ...state, sendAtMs: nowMs + periodMs(state) };
  const lacpdu = { version: 1, actor: actorOf(settings, next), partner: next.partner, collectorMaxDelay: 0 };
  return { state: next, actions: [{ do: "send", lacpdu }] };
}

function mayTalk({ active, passiveMayPair }: LacpSettings, { partner }: Live): boolean {
  return active || passiveMayPair || (partner.state & LACP_ACTIVITY) !== 0;
}

/** The partner says how often it wants to hear; an unknown one is told slowly. */
function periodMs({ partner, state }: Live): number {
  const isFast = state === "expired" || (partner.state & LACP_TIMEOUT) !== 0;
  return (isFast ? LACP_TIMERS.fastPeriodicSeconds : LACP_TIMERS.slowPeriodicSeconds) * 1000;
}

/** The plan kept, or brought forward when the partner now wants to hear sooner. */
function planned(settings: LacpSettings, state: Live, before: Live, nowMs: number): Live {
  if (!mayTalk(settings, state)) return state;
  return { ...state, sendAtMs: Math.min(before.sendAtMs ?? Infinity, nowMs + periodMs(state)) };
}

/**
 * In step with its partner, though perhaps in a group that does not carry: the partner's bond then keeps its carrier but its
 * frames are lost here (kernel fact 40).
 */
function isAttached(state: Live): boolean {
  return state.waitUntilMs === undefined && (state.selected || state.state === "current");
}

function actorOf({ self, active, fast }: LacpSettings, state: Live): LacpPort {
  const carries = lacpCarries(state);
  const bits =
    LACP_AGGREGATION |
    (active ? LACP_ACTIVITY : 0) |
    (fast ? LACP_TIMEOUT : 0) |
    (isAttached(state) ? LACP_SYNCHRONIZATION : 0) |
    (carries ? LACP_COLLECTING | LACP_DISTRIBUTING : 0) |
    (state.state === "defaulted" ? LACP_DEFAULTED : 0) |
    (state.state === "expired" ? LACP_EXPIRED : 0);
  return { ...self, state: bits };
}
