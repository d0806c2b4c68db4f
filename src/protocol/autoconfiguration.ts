/**
 * The host's side of advertisements: soliciting (RFC 4861 section 6.3.7), stateless addresses (RFC 4862 section 5.5), default
 * routers and resolvers, each with the time it lasts. An address is tentative until its probe stayed unanswered.
 */
import { type Address, type Hardware, interfaceIdentifier, type Prefix } from "../address/index.ts";
import type { NeighbourOption, RouterAdvertisement } from "../wire/index.ts";
import { earliest, type Transition } from "./transition.ts";

/** Constants of hosts: RFC 4861 section 10; RFC 4862 section 5.1 for the probe; section 5.5.3 for the two hours. */
export const AUTOCONFIGURATION_CONSTANTS = {
  solicitationIntervalSeconds: 4,
  solicitations: 3,
  /** `DupAddrDetectTransmits` times `RETRANS_TIMER`: one probe of one second. */
  probeMs: 1000,
  twoHoursSeconds: 7200,
} as const;

const FOREVER_SECONDS = 0xffffffff; // RFC 4861 section 4.6.2
const IDENTIFIER_BITS = 64; // RFC 2464 section 4: a prefix on Ethernet has 64 bits
const PREFERENCES = ["medium", "high", "medium", "low"] as const; // RFC 4191 section 2.1, from memory: 2 counts as 0

/** What a host is told once. */
export type AutoconfigurationSettings = {
  /** Hardware address: its modified EUI-64 is the interface identifier. */
  readonly hardware: Hardware;
};

/** A stateless address. */
export type FormedAddress = {
  /** Prefix and interface identifier joined. */
  readonly address: Address;
  /** Length of the prefix it was formed from. */
  readonly length: number;
  /** Until when its probe runs; absent: usable. */
  readonly tentativeUntilMs?: number;
  /** From then on it is deprecated. `Infinity`: never. */
  readonly preferredUntilMs: number;
  /** It is deprecated. Default: it is preferred. */
  readonly deprecated?: true;
  /** From then on it is gone. `Infinity`: never. */
  readonly validUntilMs: number;
};

/** A default router. */
export type DefaultRouter = {
  /** Its link-local address. */
  readonly address: Address;
  /** Router preference (RFC 4191). */
  readonly preference: "low" | "medium" | "high";
  /** When its lifetime ends. */
  readonly untilMs: number;
};

/** A prefix whose addresses are neighbours. */
export type OnLinkPrefix = {
  /** Addresses in it are asked for on the link. */
  readonly prefix: Prefix;
  /** When its valid lifetime ends. */
  readonly untilMs: number;
};

/** A resolver that was advertised. */
export type AdvertisedResolver = {
  /** Where to ask for names. */
  readonly address: Address;
  /** When its lifetime ends. */
  readonly untilMs: number;
};

/** What a host has learned. */
type Learned = {
  readonly addresses: readonly FormedAddress[];
  readonly routers: readonly DefaultRouter[];
  readonly prefixes: readonly OnLinkPrefix[];
  readonly resolvers: readonly AdvertisedResolver[];
  /** MTU advertised, in bytes; absent: none. */
  readonly mtu?: number;
};

/** The state of a host's interface; lists keep the order of arrival. */
export type AutoconfigurationState =
  | ({
      /** Waits for what is sent unasked: not started, answered, or nobody answered. */
      readonly state: "listening";
    } & Learned)
  | ({
      /** Asks for routers. */
      readonly state: "soliciting";
      /** Solicitations sent since the link came up. */
      readonly sent: number;
      /** When the next one is due. */
      readonly nextMs: number;
    } & Learned);

/** An interface that has learned nothing. */
export const NEW_AUTOCONFIGURATION: AutoconfigurationState = {
  state: "listening",
  addresses: [],
  routers: [],
  prefixes: [],
  resolvers: [],
};

/** What happens to a host's interface. */
export type AutoconfigurationEvent =
  /** The link came up. */
  | { readonly kind: "link-up" }
  | {
      readonly kind: "received";
      /** Link-local source of the advertisement. */
      readonly from: Address;
      /** What it says. */
      readonly message: RouterAdvertisement;
    }
  /** Somebody else has the address. */
  | {
      readonly kind: "duplicate";
      /** The address that was probed. */
      readonly address: Address;
    }
  /** The moment of `autoconfigurationWakeMs` has come. */
  | { readonly kind: "timer" };

/** What a host's interface wants done. */
export type AutoconfigurationAction =
  /** Send a router solicitation to all routers. */
  | { readonly do: "solicit" }
  /** Ask who has the address, from the unspecified address. */
  | {
      readonly do: "probe";
      /** The address. */
      readonly address: Address;
    }
  /** Use it from now on. */
  | {
      readonly do: "add";
      /** The address. */
      readonly address: Address;
      /** Length of its on-link prefix. */
      readonly length: number;
    }
  /** Stop using it. */
  | {
      readonly do: "remove";
      /** The address. */
      readonly address: Address;
    };

type Outcome = Transition<AutoconfigurationState, AutoconfigurationAction>;
type PrefixOption = Extract<NeighbourOption, { readonly kind: "prefix" }>;

/** When the interface wants a `timer` event. */
export function autoconfigurationWakeMs(state: AutoconfigurationState): number | undefined {
  return earliest(
    state.state === "soliciting" ? state.nextMs : undefined,
    ...state.addresses.map(nextOf),
    ...[...state.routers, ...state.prefixes, ...state.resolvers].map(({ untilMs }) => untilMs),
  );
}

/** When something of an address ends: its probe, its preferred lifetime, itself. */
function nextOf({ tentativeUntilMs, preferredUntilMs, validUntilMs, deprecated }: FormedAddress): number {
  return tentativeUntilMs ?? (deprecated === true ? validUntilMs : Math.min(preferredUntilMs, validUntilMs));
}

/** The interface after an event. */
export function stepAutoconfiguration(
  settings: AutoconfigurationSettings,
  state: AutoconfigurationState,
  event: AutoconfigurationEvent,
  nowMs: number,
): Outcome {
  switch (event.kind) {
    case "link-up":
      return solicit({ ...state, state: "soliciting", sent: 0, nextMs: nowMs }, nowMs);
    case "received":
      return onAdvertisement(settings, state, event.from, event.message, nowMs);
    case "duplicate":
      return onDuplicate(state, event.address);
    case "timer":
      return onTimer(state, nowMs);
  }
}

/** Up to three solicitations, four seconds apart. */
function solicit(state: Extract<AutoconfigurationState, { readonly state: "soliciting" }>, nowMs: number): Outcome {
  const { solicitations, solicitationIntervalSeconds } = AUTOCONFIGURATION_CONSTANTS;
  if (state.sent >= solicitations) return { state: quiet(state), actions: [] };
  const nextMs = nowMs + solicitationIntervalSeconds * 1000;
  return { state: { ...state, sent: state.sent + 1, nextMs }, actions: [{ do: "solicit" }] };
}

function quiet({ addresses, routers, prefixes, resolvers, mtu }: AutoconfigurationState): AutoconfigurationState {
  return { state: "listening", addresses, routers, prefixes, resolvers, ...(mtu === undefined ? {} : { mtu }) };
}

function onTimer(state: AutoconfigurationState, nowMs: number): Outcome {
  const gone = state.addresses.filter(({ validUntilMs }) => validUntilMs <= nowMs);
  const ready = state.addresses.filter(
    (entry) => !gone.includes(entry) && (entry.tentativeUntilMs ?? Infinity) <= nowMs,
  );
  const lasting = <Entry extends { readonly untilMs: number }>(list: readonly Entry[]) =>
    list.filter(({ untilMs }) => untilMs > nowMs);
  const next: AutoconfigurationState = {
    ...state,
    addresses: state.addresses
      .filter((entry) => !gone.includes(entry))
      .map((entry) => (ready.includes(entry) ? usable(entry) : entry))
      .map((entry) => aged(entry, nowMs)),
    routers: lasting(state.routers),
    prefixes: lasting(state.prefixes),
    resolvers: lasting(state.resolvers),
  };
  const actions: AutoconfigurationAction[] = [
    ...ready.map(({ address, length }) => ({ do: "add", address, length }) as const),
    ...gone.map(({ address }) => ({ do: "remove", address }) as const),
  ];
  if (next.state === "listening" || next.nextMs > nowMs) return { state: next, actions };
  const asked = solicit(next, nowMs);
  return { state: asked.state, actions: [...actions, ...asked.actions] };
}

/** RFC 4862 section 5.5.4: deprecated once its preferred lifetime is over, and preferred again when that is renewed. */
function aged({ deprecated: _, ...entry }: FormedAddress, nowMs: number): FormedAddress {
  return entry.preferredUntilMs <= nowMs ? { ...entry, deprecated: true } : entry;
}

function usable({ tentativeUntilMs: _, ...entry }: FormedAddress): FormedAddress {
  return entry;
}

/** A duplicate address is refused and not tried again (kernel fact 50). */
function onDuplicate(state: AutoconfigurationState, address: Address): Outcome {
  const refused = state.addresses.find((entry) => entry.address.value === address.value);
  if (refused?.tentativeUntilMs === undefined) return { state, actions: [] };
  return { state: { ...state, addresses: state.addresses.filter((entry) => entry !== refused) }, actions: [] };
}

function onAdvertisement(
  settings: AutoconfigurationSettings,
  before: AutoconfigurationState,
  from: Address,
  message: RouterAdvertisement,
  nowMs: number,
): Outcome {
  // An advertisement with a router lifetime ends soliciting (RFC 4861 section 6.3.7).
  let state = message.routerLifetimeSeconds > 0 ? quiet(before) : before;
  const actions: AutoconfigurationAction[] = [];
  state = { ...state, routers: withRouter(state.routers, from, message, nowMs) };
  for (const option of message.options) {
    if (option.kind === "prefix") state = onPrefix(settings, state, option, nowMs, actions);
    else if (option.kind === "resolvers") state = onResolvers(state, option, nowMs);
    else if (option.kind === "mtu") state = { ...state, mtu: option.mtu };
  }
  return { state, actions };
}

function withRouter(
  routers: readonly DefaultRouter[],
  address: Address,
  { routerLifetimeSeconds, preference }: RouterAdvertisement,
  nowMs: number,
): readonly DefaultRouter[] {
  const entry = {
    address,
    preference: PREFERENCES[preference] ?? "medium",
    untilMs: nowMs + routerLifetimeSeconds * 1000,
  };
  return replaced(routers, entry, (other) => other.address.value === address.value, routerLifetimeSeconds > 0);
}

/** The list with an entry in the place of the one it renews, at the end when it is new, or without it. */
function replaced<Entry>(
  list: readonly Entry[],
  entry: Entry,
  isSame: (other: Entry) => boolean,
  keep: boolean,
): readonly Entry[] {
  const at = list.findIndex(isSame);
  if (!keep) return list.filter((other) => !isSame(other));
  return at < 0 ? [...list, entry] : list.with(at, entry);
}

function until(seconds: number, nowMs: number): number {
  return seconds === FOREVER_SECONDS ? Infinity : nowMs + seconds * 1000;
}

function onResolvers(
  state: AutoconfigurationState,
  { addresses, lifetimeSeconds }: Extract<NeighbourOption, { readonly kind: "resolvers" }>,
  nowMs: number,
): AutoconfigurationState {
  let { resolvers } = state;
  for (const address of addresses) {
    const entry = { address, untilMs: until(lifetimeSeconds, nowMs) };
    resolvers = replaced(resolvers, entry, (other) => other.address.value === address.value, lifetimeSeconds > 0);
  }
  return { ...state, resolvers };
}

function onPrefix(
  settings: AutoconfigurationSettings,
  state: AutoconfigurationState,
  option: PrefixOption,
  nowMs: number,
  actions: AutoconfigurationAction[],
): AutoconfigurationState {
  if (isLinkLocalPrefix(option.prefix)) return state;
  const linked = option.onLink ? { ...state, prefixes: withPrefix(state.prefixes, option, nowMs) } : state;
  return mayForm(option) ? formOrRenew(settings, linked, option, nowMs, actions) : linked;
}

function isLinkLocalPrefix({ value, length }: Prefix): boolean {
  return length >= 10 && value >> 118n === 0xfe80n >> 6n;
}

function withPrefix(
  prefixes: readonly OnLinkPrefix[],
  { prefix, validSeconds }: PrefixOption,
  nowMs: number,
): readonly OnLinkPrefix[] {
  const entry = { prefix, untilMs: until(validSeconds, nowMs) };
  const isSame = (other: OnLinkPrefix) => other.prefix.value === prefix.value && other.prefix.length === prefix.length;
  return replaced(prefixes, entry, isSame, validSeconds > 0);
}

/** RFC 4862 section 5.5.3 a, c and d: autonomous, not preferred longer than valid, and of the length that fits Ethernet. */
function mayForm({ autonomous, preferredSeconds, validSeconds, prefix }: PrefixOption): boolean {
  return autonomous && preferredSeconds <= validSeconds && prefix.length + IDENTIFIER_BITS === 128;
}

function formOrRenew(
  { hardware }: AutoconfigurationSettings,
  state: AutoconfigurationState,
  option: PrefixOption,
  nowMs: number,
  actions: AutoconfigurationAction[],
): AutoconfigurationState {
  const value = option.prefix.value | interfaceIdentifier(hardware);
  const known = state.addresses.findIndex((entry) => entry.address.value === value);
  const before = state.addresses[known];
  if (before) return { ...state, addresses: state.addresses.with(known, renewed(before, option, nowMs)) };
  if (option.validSeconds === 0) return state;
  const address: Address = { family: 6, value };
  actions.push({ do: "probe", address });
  const formed: FormedAddress = {
    address,
    length: option.prefix.length,
    tentativeUntilMs: nowMs + AUTOCONFIGURATION_CONSTANTS.probeMs,
    preferredUntilMs: until(option.preferredSeconds, nowMs),
    validUntilMs: until(option.validSeconds, nowMs),
  };
  return { ...state, addresses: [...state.addresses, aged(formed, nowMs)] };
}

function renewed(entry: FormedAddress, { preferredSeconds, validSeconds }: PrefixOption, nowMs: number): FormedAddress {
  const remainingSeconds = (entry.validUntilMs - nowMs) / 1000;
  const validUntilMs = until(renewedValidity(remainingSeconds, validSeconds), nowMs);
  return aged({ ...entry, preferredUntilMs: until(preferredSeconds, nowMs), validUntilMs }, nowMs);
}

/** The two-hour rule (RFC 4862 section 5.5.3 e): the seconds that an address stays valid after an advertisement. */
export function renewedValidity(remainingSeconds: number, receivedSeconds: number): number {
  const { twoHoursSeconds } = AUTOCONFIGURATION_CONSTANTS;
  if (receivedSeconds > twoHoursSeconds || receivedSeconds > remainingSeconds) return receivedSeconds;
  return Math.min(remainingSeconds, twoHoursSeconds);
}
