/**
 * One entry of a neighbour cache, for ARP (RFC 826) and IPv6 neighbour discovery (RFC 4861 section 7) alike, as a
 * pure machine: nobody is known, somebody is asked for, or somebody answered. A stale entry is used once more, as section
 * 7.3.3 has it, and lives as long as it would be probed then; later it is asked for anew (unreachability detection is cut
 * down to that).
 */
import type { Hardware } from "../address/index.ts";
import type { Transition } from "./transition.ts";

/** How often to ask, and for how long an answer counts. */
export type NeighbourSettings = {
  /** Questions before giving up. MAX_MULTICAST_SOLICIT of RFC 4861 section 10. */
  readonly tries: number;
  /** Time between questions. RETRANS_TIMER, the same section. */
  readonly retryMs: number;
  /** Lifetime of an answer. REACHABLE_TIME, the same section: the middle of 0.5 to 1.5 times that, from which each host draws (6.3.2). */
  readonly reachableMs: number;
  /** How long an entry that is used after its lifetime is given. DELAY_FIRST_PROBE_TIME and three probes, the same section. */
  readonly staleMs: number;
};

/** RFC 4861 section 10; the kernel asks as often for ARP. */
export const NEIGHBOUR_SETTINGS: NeighbourSettings = { tries: 3, retryMs: 1000, reachableMs: 30_000, staleMs: 8000 };

/** An entry of a neighbour cache. */
export type NeighbourState =
  | { readonly state: "unknown" }
  | {
      readonly state: "asking";
      /** Questions sent. */
      readonly tries: number;
      /** When the next step is due. */
      readonly retryAtMs: number;
    }
  | {
      readonly state: "known";
      /** Where the neighbour is. */
      readonly hardware: Hardware;
      /** Until then it is used without asking. */
      readonly untilMs: number;
      /** It was used after its time. Default: it was not. */
      readonly isStale?: boolean;
    };

/** An entry that nobody asked for yet. */
export const UNKNOWN_NEIGHBOUR: NeighbourState = { state: "unknown" };

/** What happens to an entry. */
export type NeighbourEvent =
  /** A packet wants to go there. */
  | { readonly kind: "needed" }
  /** The neighbour said where it is, asked or not. */
  | {
      readonly kind: "heard";
      /** Where the neighbour is. */
      readonly hardware: Hardware;
    }
  /** `retryAtMs` has come. */
  | { readonly kind: "timer" };

/** What an entry wants done. */
export type NeighbourAction =
  /** Ask everyone on the segment. */
  | { readonly do: "ask" }
  /** Let the waiting packets go, to this address. */
  | {
      readonly do: "use";
      /** Where to send. */
      readonly hardware: Hardware;
    }
  /** Nobody answered: the waiting packets end. */
  | { readonly do: "give-up" };

type Outcome = Transition<NeighbourState, NeighbourAction>;

/** The entry after an event. */
export function stepNeighbour(
  settings: NeighbourSettings,
  state: NeighbourState,
  event: NeighbourEvent,
  nowMs: number,
): Outcome {
  switch (event.kind) {
    case "needed":
      return onNeeded(settings, state, nowMs);
    case "heard":
      return onHeard(settings, event.hardware, nowMs);
    case "timer":
      return onTimer(settings, state, nowMs);
  }
}

function onNeeded(settings: NeighbourSettings, state: NeighbourState, nowMs: number): Outcome {
  if (state.state === "asking") return { state, actions: [] };
  if (state.state === "known" && state.untilMs > nowMs) {
    return { state, actions: [{ do: "use", hardware: state.hardware }] };
  }
  if (state.state === "known" && state.isStale !== true) {
    const { hardware } = state;
    const probed = { state: "known", hardware, untilMs: nowMs + settings.staleMs, isStale: true } as const;
    return { state: probed, actions: [{ do: "use", hardware }] };
  }
  return ask(settings, 1, nowMs);
}

function onHeard(settings: NeighbourSettings, hardware: Hardware, nowMs: number): Outcome {
  return {
    state: { state: "known", hardware, untilMs: nowMs + settings.reachableMs },
    actions: [{ do: "use", hardware }],
  };
}

function onTimer(settings: NeighbourSettings, state: NeighbourState, nowMs: number): Outcome {
  if (state.state !== "asking" || state.retryAtMs > nowMs) return { state, actions: [] };
  if (state.tries < settings.tries) return ask(settings, state.tries + 1, nowMs);
  return { state: UNKNOWN_NEIGHBOUR, actions: [{ do: "give-up" }] };
}

function ask(settings: NeighbourSettings, tries: number, nowMs: number): Outcome {
  return { state: { state: "asking", tries, retryAtMs: nowMs + settings.retryMs }, actions: [{ do: "ask" }] };
}
