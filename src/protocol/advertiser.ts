/**
 * The router's side of advertisements (RFC 4861 section 6.2): when to send, and what. Values not configured are the
 * defaults of section 6.2.1; without `fuzz` every random delay is the middle of its range.
 */
import type { Hardware } from "../address/index.ts";
import type { Advertise } from "../network/index.ts";
import type { NeighbourOption, RouterAdvertisement } from "../wire/index.ts";
import type { Transition } from "./transition.ts";

/** Constants of routers, RFC 4861 section 10, and the default interval of section 6.2.1. */
export const ADVERTISER_CONSTANTS = {
  maximumIntervalSeconds: 600,
  initialIntervalSeconds: 16,
  initialAdvertisements: 3,
  minimumDelaySeconds: 3,
  answerDelaySeconds: 0.5,
} as const;

/** What an advertiser is told once. */
export type AdvertiserSettings = {
  /** Its configuration. */
  readonly service: Advertise;
  /** Hardware address of the interface. */
  readonly hardware: Hardware;
  /** Longest time between advertisements, 4 to 1800. Default: 600. */
  readonly maximumIntervalSeconds?: number;
  /** Random number from -1 to 1 for the nth delay; the same for the same n. Default: 0. */
  readonly fuzz?: (count: number) => number;
};

/** The state of an advertiser. */
export type AdvertiserState =
  | {
      /** Not an advertising interface. */
      readonly state: "silent";
    }
  | {
      readonly state: "advertising";
      /** Advertisements sent since it began. */
      readonly sent: number;
      /** When the last one went out; absent: none yet. */
      readonly lastMs?: number;
      /** When the next one is due. */
      readonly nextMs: number;
    };

/** An interface that does not advertise, as every one begins (`AdvSendAdvertisements` is false by default). */
export const SILENT_ADVERTISER: AdvertiserState = { state: "silent" };

/** What happens to an advertiser. */
export type AdvertiserEvent =
  /** Its link came up, or it was switched on. */
  | { readonly kind: "start" }
  /** It is switched off: it says farewell. */
  | { readonly kind: "stop" }
  /** A router solicitation came in. */
  | { readonly kind: "solicited" }
  | {
      readonly kind: "withdraws";
      /** Delegated prefixes that it has no more. */
      readonly gone: Advertise["prefixes"];
    }
  /** What it says of itself is another thing from now on. */
  | { readonly kind: "changes" }
  /** The moment of `advertiserWakeMs` has come. */
  | { readonly kind: "timer" };

/** What an advertiser wants done: a message to all nodes on the link. */
export type AdvertiserAction = {
  readonly do: "send";
  /** To be sent to all nodes. */
  readonly message: RouterAdvertisement;
};

type Outcome = Transition<AdvertiserState, AdvertiserAction>;

/** When the advertiser wants a `timer` event. */
export function advertiserWakeMs(state: AdvertiserState): number | undefined {
  return state.state === "advertising" ? state.nextMs : undefined;
}

/** The advertiser after an event. */
export function stepAdvertiser(
  settings: AdvertiserSettings,
  state: AdvertiserState,
  event: AdvertiserEvent,
  nowMs: number,
): Outcome {
  switch (event.kind) {
    case "start":
      return state.state === "silent" ? send(settings, 0, nowMs) : { state, actions: [] };
    case "stop":
      return stop(settings, state);
    case "withdraws":
      return withdraw(settings, state, event.gone, nowMs);
    case "changes":
      // At once (RFC 7084 G-5); that it may, where it is a default router again, says section 6.2.4.
      return state.state === "silent" ? { state, actions: [] } : send(settings, state.sent, nowMs);
    case "solicited":
      return { state: onSolicited(settings, state, nowMs), actions: [] };
    case "timer":
      if (state.state === "silent" || state.nextMs > nowMs) return { state, actions: [] };
      return send(settings, state.sent, nowMs);
  }
}

function send(settings: AdvertiserSettings, sentBefore: number, nowMs: number): Outcome {
  const sent = sentBefore + 1;
  return {
    state: { state: "advertising", sent, lastMs: nowMs, nextMs: nowMs + intervalSeconds(settings, sent) * 1000 },
    actions: [{ do: "send", message: advertisementOf(settings) }],
  };
}

/** Between a third of the longest interval and the whole of it; the first few at most 16 s apart (section 6.2.4). */
function intervalSeconds(settings: AdvertiserSettings, sent: number): number {
  const most = settings.maximumIntervalSeconds ?? ADVERTISER_CONSTANTS.maximumIntervalSeconds;
  const least = minimumInterval(most);
  const chosen = (most + least) / 2 + ((settings.fuzz?.(sent) ?? 0) * (most - least)) / 2;
  const isEarly = sent < ADVERTISER_CONSTANTS.initialAdvertisements;
  return isEarly ? Math.min(chosen, ADVERTISER_CONSTANTS.initialIntervalSeconds) : chosen;
}

/** `MinRtrAdvInterval`, in seconds: 0.33 of the longest interval, from 9 seconds on (RFC 4861 section 6.2.1). */
export function minimumInterval(maximumIntervalSeconds: number): number {
  return maximumIntervalSeconds >= 9 ? 0.33 * maximumIntervalSeconds : maximumIntervalSeconds;
}

/** An answer within half a second, never sooner than 3 s after the last message (section 6.2.6). */
function onSolicited(settings: AdvertiserSettings, state: AdvertiserState, nowMs: number): AdvertiserState {
  if (state.state === "silent") return state;
  const { answerDelaySeconds, minimumDelaySeconds } = ADVERTISER_CONSTANTS;
  const delayMs = ((1 + (settings.fuzz?.(state.sent) ?? 0)) / 2) * answerDelaySeconds * 1000;
  const earliestMs = (state.lastMs ?? -Infinity) + minimumDelaySeconds * 1000;
  const answerMs = nowMs < earliestMs ? earliestMs + delayMs : nowMs + delayMs;
  return { ...state, nextMs: Math.min(state.nextMs, answerMs) };
}

/** A last message with router lifetime 0 (section 6.2.5). */
function stop(settings: AdvertiserSettings, state: AdvertiserState): Outcome {
  if (state.state === "silent") return { state, actions: [] };
  const message = { ...advertisementOf(settings), routerLifetimeSeconds: 0 };
  return { state: SILENT_ADVERTISER, actions: [{ do: "send", message }] };
}

/** At once a message in which these prefixes have lifetimes of zero (RFC 7084 L-13). */
function withdraw(
  settings: AdvertiserSettings,
  state: AdvertiserState,
  gone: Advertise["prefixes"],
  nowMs: number,
): Outcome {
  if (state.state === "silent") return { state, actions: [] };
  const prefixes = gone.map((prefix) => ({ ...prefix, preferredSeconds: 0, validSeconds: 0 }));
  const { service } = settings;
  return send(
    { ...settings, service: { ...service, prefixes: [...service.prefixes, ...prefixes] } },
    state.sent,
    nowMs,
  );
}

const HOP_LIMIT = 64; // assigned numbers, from memory
const PREFERENCES = { medium: 0, high: 1, low: 3 } as const; // RFC 4191 section 2.1, from memory

/** The message that an advertiser sends; flags M and O are never set. */
export function advertisementOf({
  service,
  hardware,
  maximumIntervalSeconds,
}: AdvertiserSettings): RouterAdvertisement {
  const lifetimeSeconds = 3 * (maximumIntervalSeconds ?? ADVERTISER_CONSTANTS.maximumIntervalSeconds);
  const options: NeighbourOption[] = [{ kind: "source-link", hardware }];
  if (service.mtu !== undefined) options.push({ kind: "mtu", mtu: service.mtu });
  for (const { value, length, ...rest } of service.prefixes) {
    options.push({ kind: "prefix", prefix: { family: 6, value, length }, ...rest });
  }
  if (service.resolvers.length > 0) {
    const addresses = service.resolvers.map((value) => ({ family: 6, value }) as const);
    options.push({ kind: "resolvers", lifetimeSeconds, addresses });
  }
  return {
    kind: "router-advertisement",
    hopLimit: HOP_LIMIT,
    managed: false,
    other: false,
    // RFC 4191: a router that is no default router says medium.
    preference: service.routerSeconds === 0 ? PREFERENCES.medium : PREFERENCES[service.preference],
    routerLifetimeSeconds: service.routerSeconds,
    reachableMs: 0,
    retransmitMs: 0,
    options,
  };
}
