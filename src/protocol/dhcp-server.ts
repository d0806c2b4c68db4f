/**
 * DHCPv4 server (RFC 2131 section 4.3) for one interface and its network, as a pure machine over its table of bindings.
 * It never probes an address. An exhausted pool and a client of no concern are met with silence, and a log line.
 * Options follow table 3 of the RFC; the client identifier is echoed (RFC 6842), relay information too (RFC 3046).
 */
import { type Address, prefixContains, rangesContain } from "../address/index.ts";
import type { DhcpServer, Id } from "../network/index.ts";
import {
  BOOT_REPLY,
  DHCP_BROADCAST,
  DHCP_CLASSLESS_ROUTES,
  DHCP_CLIENT_IDENTIFIER,
  DHCP_LEASE_SECONDS,
  DHCP_RELAY_INFORMATION,
  DHCP_REQUESTED_ADDRESS,
  DHCP_SERVER_IDENTIFIER,
  type DhcpMessage,
  dhcpAddress,
  dhcpOption,
  dhcpParameterList,
  dhcpSeconds,
} from "../wire/index.ts";
import {
  type AddressWish,
  chooseAddress,
  currentOf,
  type DhcpBinding,
  type DhcpBindings,
  mayHave,
  recordOf,
  withBinding,
} from "./dhcp-bindings.ts";
import { type DhcpFields, type DhcpKind, dhcpKind, dhcpOptions, FOREVER_SECONDS, NO_ADDRESS } from "./dhcp-fields.ts";
import type {
  DhcpDelivery,
  DhcpServerAction,
  DhcpServerEvent,
  DhcpServerSettings,
  DhcpServerState,
} from "./dhcp-server-state.ts";
import type { Transition } from "./transition.ts";

/** How long an offered address is kept for its client. The RFC leaves it open; our choice. */
const OFFER_HOLD_SECONDS = 60;

type Outcome = Transition<DhcpServerState, DhcpServerAction>;

type Log = Extract<DhcpServerAction, { readonly do: "log" }>["what"];

/** All that answering one message needs. */
type Turn = {
  readonly settings: DhcpServerSettings;
  readonly bindings: DhcpBindings;
  readonly message: DhcpMessage;
  readonly unicast: boolean;
  readonly wish: AddressWish;
  readonly nowMs: number;
};

/** Whether a server is the one that a message is for: by the relay's address, by the client's own, or by the interface. */
export function dhcpServes(service: DhcpServer, arrivedOn: Id, message: DhcpMessage): boolean {
  if (message.relayAddress.value !== 0n) return inNetwork(service, message.relayAddress);
  // A client behind a relay renews by unicast, on whatever interface its packets come in.
  if (message.clientAddress.value !== 0n && inNetwork(service, message.clientAddress)) return true;
  return service.interface === arrivedOn;
}

/** The server's answer to one message. */
export function stepDhcpServer(
  settings: DhcpServerSettings,
  state: DhcpServerState,
  event: DhcpServerEvent,
  nowMs: number,
): Outcome {
  const { message, unicast } = event;
  const turn = { settings, bindings: state.bindings, message, unicast, wish: wishOf(message), nowMs };
  switch (dhcpKind(message)) {
    case "discover":
      return onDiscover(turn);
    case "request":
      return onRequest(turn);
    case "decline":
      return onDecline(turn);
    case "release":
      return onRelease(turn);
    case "inform":
      return onInform(turn);
    default:
      return { state, actions: [] };
  }
}

function inNetwork({ subnet }: DhcpServer, address: Address): boolean {
  return prefixContains({ family: 4, value: subnet.value, length: subnet.length }, address);
}

/** The key of a client: its identifier if it sends one, else its hardware address (RFC 2131 section 4.2). */
function dhcpClientKey(message: DhcpMessage): string {
  const identifier = dhcpOption(message, DHCP_CLIENT_IDENTIFIER);
  if (!identifier) return `hardware ${message.clientHardware.toString(16)}`;
  return `identifier ${Array.from(identifier, (byte) => byte.toString(16).padStart(2, "0")).join("")}`;
}

function wishOf(message: DhcpMessage): AddressWish {
  return {
    client: dhcpClientKey(message),
    hardware: message.clientHardware,
    requested: dhcpAddress(message, DHCP_REQUESTED_ADDRESS)?.value,
  };
}

function silent(turn: Turn, what?: Log): Outcome {
  const actions = what ? [{ do: "log", what, hardware: turn.wish.hardware } as const] : [];
  return { state: { bindings: turn.bindings }, actions };
}

function onDiscover(turn: Turn): Outcome {
  const { settings, bindings, wish, nowMs } = turn;
  const value = chooseAddress(settings.service, bindings, wish, nowMs);
  if (value === undefined) return silent(turn, "exhausted");
  const seconds = leaseSeconds(turn, recordOf(bindings, wish.client, value));
  const bound = currentOf(bindings, wish.client, nowMs);
  // A lease that runs is not weakened to an offer.
  const kept = bound?.condition === "bound" && bound.value === value;
  const table = kept ? bindings : withBinding(bindings, entryOf(turn, value, "offered", seconds, OFFER_HOLD_SECONDS));
  return { state: { bindings: table }, actions: [answer(turn, "offer", value, seconds)] };
}

/**
 * Length of the lease (RFC 2131 section 4.3.1): what is asked for, up to what is configured; else what is left of the
 * running lease, or what was offered; else what is configured.
 */
function leaseSeconds({ settings, message, nowMs }: Turn, record: DhcpBinding | undefined): number {
  const most = settings.service.leaseSeconds;
  const asked = dhcpSeconds(message, DHCP_LEASE_SECONDS);
  if (asked !== undefined) return Math.min(asked, most);
  if (!record || record.untilMs <= nowMs) return most;
  if (record.condition === "offered") return record.leaseSeconds;
  if (record.condition !== "bound") return most;
  return record.untilMs === Infinity ? FOREVER_SECONDS : Math.ceil((record.untilMs - nowMs) / 1000);
}

function entryOf(
  { wish, nowMs }: Turn,
  value: bigint,
  condition: DhcpBinding["condition"],
  seconds: number,
  holdSeconds: number,
): DhcpBinding {
  const untilMs = holdSeconds === FOREVER_SECONDS ? Infinity : nowMs + holdSeconds * 1000;
  return { value, client: wish.client, hardware: wish.hardware, condition, untilMs, leaseSeconds: seconds };
}

/** A request is told from its fields (RFC 2131 table 4). */
function onRequest(turn: Turn): Outcome {
  const { message, wish } = turn;
  const server = dhcpAddress(message, DHCP_SERVER_IDENTIFIER);
  if (server) return onSelecting(turn, server);
  if (message.clientAddress.value !== 0n) return onExtending(turn, message.clientAddress);
  return wish.requested === undefined ? silent(turn) : onReboot(turn, wish.requested);
}

function onSelecting(turn: Turn, server: Address): Outcome {
  const { settings, wish, nowMs } = turn;
  if (!isNamedBy(settings, server)) return onOtherServer(turn);
  // It goes by the name that it was asked by.
  const named: Turn = { ...turn, settings: { ...settings, address: server } };
  const value = wish.requested;
  if (value === undefined || !isAvailable(turn, value)) return refuse(named, "not-available");
  const record = recordOf(turn.bindings, wish.client, value);
  return acknowledge(named, value, leaseSeconds(turn, record && record.untilMs > nowMs ? record : undefined));
}

function isNamedBy({ address, others = [] }: DhcpServerSettings, { value }: Address): boolean {
  return value === address.value || rangesContain(others, value);
}

/** The client took another offer: ours is open again. */
function onOtherServer(turn: Turn): Outcome {
  const { settings, bindings, wish, nowMs } = turn;
  const offered = currentOf(bindings, wish.client, nowMs);
  const withdrawn: DhcpBindings =
    offered?.condition === "offered"
      ? withBinding(bindings, { ...offered, condition: "released", untilMs: nowMs })
      : bindings;
  const open = { ...turn, bindings: withdrawn };
  const isRefused = settings.profile === "linux" && settings.service.authoritative;
  return isRefused ? refuse(open, "other-server") : silent(open);
}

function isAvailable({ settings, bindings, wish, nowMs }: Turn, value: bigint): boolean {
  return mayHave(settings.service, bindings, wish, value, nowMs);
}

/** INIT-REBOOT: a client asks whether the address it remembers still holds. */
function onReboot(turn: Turn, value: bigint): Outcome {
  const { settings, bindings, wish } = turn;
  const { service, profile } = settings;
  if (!inNetwork(service, { family: 4, value })) return onForeign(turn);
  const isKnown = bindings.some((entry) => entry.client === wish.client && entry.condition !== "declined");
  if (!isKnown && (profile === "rfc" || !service.authoritative)) return silent(turn, "unknown-client");
  const isOwn = !isKnown || recordOf(bindings, wish.client, value) !== undefined;
  return isOwn && isAvailable(turn, value) ? acknowledge(turn, value, fullLease(turn)) : refuse(turn, "not-available");
}

function onForeign(turn: Turn): Outcome {
  return turn.settings.service.authoritative ? refuse(turn, "foreign-network") : silent(turn, "foreign-network");
}

/** RENEWING (sent to this server) or REBINDING (sent to all). */
function onExtending(turn: Turn, address: Address): Outcome {
  const { settings, bindings, wish, unicast } = turn;
  if (!inNetwork(settings.service, address)) return onForeign(turn);
  const isKnown = recordOf(bindings, wish.client, address.value) !== undefined;
  const mayAdopt = settings.profile === "linux" && settings.service.authoritative;
  if ((isKnown || mayAdopt) && isAvailable(turn, address.value))
    return acknowledge(turn, address.value, fullLease(turn));
  // Heard by all, it may be the lease of another server: no business of this one.
  return isKnown || unicast ? refuse(turn, "not-available") : silent(turn, "unknown-client");
}

/** A lease that begins anew: what is asked for, up to what is configured. */
function fullLease(turn: Turn): number {
  return leaseSeconds(turn, undefined);
}

function acknowledge(turn: Turn, value: bigint, seconds: number): Outcome {
  const bound = entryOf(turn, value, "bound", seconds, seconds);
  return {
    state: { bindings: withBinding(turn.bindings, bound) },
    actions: [answer(turn, "acknowledge", value, seconds)],
  };
}

/** DHCPNAK, with nothing but what table 3 allows. */
function refuse(turn: Turn, what: Log): Outcome {
  const { message, settings } = turn;
  const isRelayed = message.relayAddress.value !== 0n;
  const refusal: DhcpMessage = {
    ...replyTo(turn),
    // Over a relay the broadcast bit makes the relay broadcast the refusal (section 4.3.2).
    flags: isRelayed ? message.flags | DHCP_BROADCAST : message.flags,
    options: dhcpOptions({ kind: "refuse", server: settings.address, message: what, ...echoed(message) }),
  };
  const delivery: DhcpDelivery = isRelayed ? { to: "relay", address: message.relayAddress } : { to: "everyone" };
  const log = { do: "log", what, hardware: turn.wish.hardware } as const;
  return { state: { bindings: turn.bindings }, actions: [{ do: "send", message: refusal, delivery }, log] };
}

/** The fixed part of every answer: `hops` and `secs` 0; transaction, flags, relay and hardware copied (table 3). */
function replyTo({ message }: Turn): DhcpMessage {
  return {
    operation: BOOT_REPLY,
    hops: 0,
    transaction: message.transaction,
    seconds: 0,
    flags: message.flags,
    clientAddress: NO_ADDRESS,
    yourAddress: NO_ADDRESS,
    nextServer: NO_ADDRESS,
    relayAddress: message.relayAddress,
    clientHardware: message.clientHardware,
    options: [],
  };
}

function echoed(message: DhcpMessage): Pick<DhcpFields, "clientIdentifier" | "agentInformation"> {
  return {
    clientIdentifier: dhcpOption(message, DHCP_CLIENT_IDENTIFIER),
    agentInformation: dhcpOption(message, DHCP_RELAY_INFORMATION),
  };
}

function answer(
  turn: Turn,
  kind: DhcpKind & ("offer" | "acknowledge"),
  value: bigint,
  seconds: number | undefined,
): DhcpServerAction {
  const { message } = turn;
  const reply: DhcpMessage = {
    ...replyTo(turn),
    clientAddress: kind === "acknowledge" ? message.clientAddress : NO_ADDRESS,
    yourAddress: { family: 4, value },
    options: dhcpOptions({ kind, ...configured(turn), ...timers(seconds), ...echoed(message) }),
  };
  return { do: "send", message: reply, delivery: deliveryOf(reply) };
}

/**
 * Configured parameters. A client that asks for option 121 gets it instead of option 3 (RFC 3442, server
 * responsibilities); one that says nothing of what it wants gets both.
 */
function configured({ settings, message }: Turn): Partial<DhcpFields> {
  const { service, address } = settings;
  const asked = dhcpParameterList(message);
  const readsRoutes = !asked || asked.includes(DHCP_CLASSLESS_ROUTES);
  const routes = readsRoutes ? service.routes : [];
  return {
    maskLength: service.subnet.length,
    routers: asked && routes.length > 0 ? [] : service.routers,
    resolvers: service.resolvers,
    domain: service.domain,
    server: address,
    routes,
  };
}

function timers(seconds: number | undefined): Partial<DhcpFields> {
  return seconds === undefined ? {} : { leaseSeconds: seconds, ...dhcpLifetimes(seconds) };
}

/** T1 and T2 of a lease, as servers tell them (RFC 2131 section 4.4.5); undefined: it never ends. */
export function dhcpLifetimes(
  seconds: number,
): { readonly renewSeconds: number; readonly rebindSeconds: number } | undefined {
  if (seconds === FOREVER_SECONDS) return undefined;
  return { renewSeconds: Math.floor(seconds / 2), rebindSeconds: Math.floor(seconds * 0.875) };
}

/** Section 4.1: to the relay; to an address the client has; to everyone if it asks so; else to its new address. */
function deliveryOf(reply: DhcpMessage): DhcpDelivery {
  if (reply.relayAddress.value !== 0n) return { to: "relay", address: reply.relayAddress };
  if (reply.clientAddress.value !== 0n) return { to: "host", address: reply.clientAddress };
  if ((reply.flags & DHCP_BROADCAST) !== 0) return { to: "everyone" };
  return { to: "host", address: reply.yourAddress, hardware: reply.clientHardware };
}

/** The address is in use by somebody: not lent again for the length of a lease. */
function onDecline(turn: Turn): Outcome {
  const { settings, bindings, message, wish } = turn;
  const server = dhcpAddress(message, DHCP_SERVER_IDENTIFIER);
  const value = wish.requested;
  if (value === undefined || server === undefined || !isNamedBy(settings, server)) return silent(turn);
  if (!recordOf(bindings, wish.client, value)) return silent(turn);
  const seconds = settings.service.leaseSeconds;
  const table = withBinding(bindings, entryOf(turn, value, "declined", seconds, seconds));
  return { state: { bindings: table }, actions: [{ do: "log", what: "declined", hardware: wish.hardware }] };
}

function onRelease(turn: Turn): Outcome {
  const record = recordOf(turn.bindings, turn.wish.client, turn.message.clientAddress.value);
  if (!record) return silent(turn);
  const released: DhcpBinding = { ...record, condition: "released", untilMs: turn.nowMs };
  return { state: { bindings: withBinding(turn.bindings, released) }, actions: [] };
}

/** Parameters without an address: no lease time, no `yiaddr`, straight to the client (section 4.3.5). */
function onInform(turn: Turn): Outcome {
  const { message } = turn;
  const reply: DhcpMessage = {
    ...replyTo(turn),
    clientAddress: message.clientAddress,
    options: dhcpOptions({ kind: "acknowledge", ...configured(turn), ...echoed(message) }),
  };
  const delivery: DhcpDelivery = { to: "host", address: message.clientAddress };
  return { state: { bindings: turn.bindings }, actions: [{ do: "send", message: reply, delivery }] };
}
