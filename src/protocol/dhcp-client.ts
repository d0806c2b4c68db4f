/**
 * DHCPv4 client (RFC 2131 section 4.4): the eight states of figure 5, one record each. It takes the first offer unless
 * told to collect, probes the address it is given (section 4.4.1), renews at T1 and T2, and asks anew when its link
 * comes back. Without `fuzz` every delay is the middle of its random range.
 */
import type { Address } from "../address/index.ts";
import {
  BOOT_REPLY,
  BOOT_REQUEST,
  DHCP_BROADCAST,
  DHCP_CLIENT_IDENTIFIER,
  DHCP_SERVER_IDENTIFIER,
  type DhcpMessage,
  dhcpOption,
} from "../wire/index.ts";
import {
  type Asking,
  type DhcpClientAction,
  type DhcpClientEvent,
  type DhcpClientSettings,
  type DhcpClientState,
  dhcpClientLease,
  dhcpClientWakeMs,
} from "./dhcp-client-state.ts";
import { type DhcpFields, dhcpKind, dhcpOptions, NO_ADDRESS } from "./dhcp-fields.ts";
import { type Lease, leaseOf } from "./dhcp-lease.ts";
import type { Transition } from "./transition.ts";

const EVERYONE: Address = { family: 4, value: 0xffffffffn };
const FIRST_DELAY_SECONDS = 4; // RFC 2131 section 4.1
const LONGEST_DELAY_SECONDS = 64; // RFC 2131 section 4.1
const REQUEST_TRIES = 4; // "four times, for a total delay of 60 seconds", RFC 2131 section 3.1
const DECLINE_WAIT_SECONDS = 10; // RFC 2131 section 3.1 step 5
const REFUSED_WAIT_SECONDS = 1; // no figure in the RFC; keeps a refused client from spinning
const RENEW_MINIMUM_SECONDS = 60; // RFC 2131 section 4.4.5

const DEFAULT_PARAMETERS = [1, 121, 3, 6, 15, 51, 58, 59];

type Turn = {
  readonly settings: DhcpClientSettings;
  readonly nowMs: number;
};

type Outcome = Transition<DhcpClientState, DhcpClientAction>;
type In<State extends DhcpClientState["state"]> = Extract<DhcpClientState, { readonly state: State }>;
type Waiting = In<"requesting" | "rebooting">;
type Extending = In<"renewing" | "rebinding">;

/** The client after an event. */
export function stepDhcpClient(
  settings: DhcpClientSettings,
  state: DhcpClientState,
  event: DhcpClientEvent,
  nowMs: number,
): Outcome {
  const turn = { settings, nowMs };
  switch (event.kind) {
    case "link-up":
      return onLinkUp(turn, state);
    case "received":
      return isForMe(settings, state, event.message) ? onMessage(turn, state, event.message) : stay(state);
    case "address-in-use":
      return onInUse(turn, state);
    case "timer":
      return (dhcpClientWakeMs(state) ?? Infinity) > nowMs ? stay(state) : onTimer(turn, state);
    case "release":
      return onRelease(turn, state);
  }
}

function stay(state: DhcpClientState): Outcome {
  return { state, actions: [] };
}

function onLinkUp(turn: Turn, state: DhcpClientState): Outcome {
  const lease = dhcpClientLease(state);
  if (!lease) return discover(turn, { transactions: state.transactions });
  return lease.endsAtMs > turn.nowMs
    ? reboot(turn, state.transactions, lease)
    : expire(turn, state.transactions, lease);
}

function onTimer(turn: Turn, state: DhcpClientState): Outcome {
  switch (state.state) {
    case "init":
      return discover(turn, state);
    case "selecting":
      return state.offers[0] ? select(turn, state, state.offers[0]) : retryDiscover(turn, state);
    case "requesting":
    case "rebooting":
      return state.checking ? bind(state.transactions, state.checking.lease) : retryRequest(turn, state);
    case "init-reboot":
      return reboot(turn, state.transactions, state.lease);
    case "bound":
      return extend(turn, "renewing", state.transactions, state.lease);
    case "renewing":
    case "rebinding":
      return onExtendingTimer(turn, state);
  }
}

function onExtendingTimer(turn: Turn, { state, transactions, lease }: Extending): Outcome {
  if (lease.endsAtMs <= turn.nowMs) return expire(turn, transactions, lease);
  return extend(
    turn,
    state === "rebinding" || lease.rebindAtMs <= turn.nowMs ? "rebinding" : "renewing",
    transactions,
    lease,
  );
}

/** Answers count when they carry this client's hardware address, transaction and, if any, identifier (RFC 6842). */
function isForMe(settings: DhcpClientSettings, state: DhcpClientState, message: DhcpMessage): boolean {
  if (message.operation !== BOOT_REPLY || message.clientHardware !== settings.hardware) return false;
  if (!("transaction" in state) || state.transaction !== message.transaction) return false;
  const echoed = dhcpOption(message, DHCP_CLIENT_IDENTIFIER);
  if (echoed && String(echoed) !== String(settings.clientIdentifier)) return false;
  return state.state !== "requesting" || isFromChosen(state, message);
}

/** Another server's refusal is no refusal by the one that was chosen: it may say so and come first (kernel fact 27). */
function isFromChosen({ offer }: In<"requesting">, message: DhcpMessage): boolean {
  const [chosen, speaking] = [offer, message].map((each) => dhcpOption(each, DHCP_SERVER_IDENTIFIER));
  return !chosen || !speaking || String(chosen) === String(speaking);
}

function onMessage(turn: Turn, state: DhcpClientState, message: DhcpMessage): Outcome {
  switch (dhcpKind(message)) {
    case "offer":
      return state.state === "selecting" ? collect(turn, state, message) : stay(state);
    case "acknowledge":
      return onAcknowledge(turn, state, message);
    case "refuse":
      return onRefuse(turn, state);
    default:
      return stay(state);
  }
}

function collect(turn: Turn, state: In<"selecting">, offer: DhcpMessage): Outcome {
  if (!leaseOf(offer, turn.nowMs)) return stay(state);
  const offers = [...state.offers, offer];
  const chooseAtMs = state.chooseAtMs ?? turn.nowMs + (turn.settings.collectMs ?? 0);
  const next = { ...state, offers, chooseAtMs };
  return chooseAtMs <= turn.nowMs ? select(turn, next, offers[0] ?? offer) : stay(next);
}

function onAcknowledge(turn: Turn, state: DhcpClientState, message: DhcpMessage): Outcome {
  if (!("sentMs" in state) || state.state === "selecting") return stay(state);
  const lease = leaseOf(message, state.sentMs);
  if (!lease) return stay(state);
  if (state.state === "renewing" || state.state === "rebinding") return bind(state.transactions, lease);
  if (state.checking) return stay(state);
  const probeMs = turn.settings.probeMs ?? 0;
  if (probeMs === 0) return bind(state.transactions, lease);
  const checking = { lease, untilMs: turn.nowMs + probeMs };
  return { state: { ...state, checking }, actions: [{ do: "probe", address: lease.address }] };
}

function bind(transactions: number, lease: Lease): Outcome {
  return { state: { state: "bound", transactions, lease }, actions: [{ do: "configure", lease }] };
}

function onRefuse(turn: Turn, state: DhcpClientState): Outcome {
  if (!("sentMs" in state) || state.state === "selecting") return stay(state);
  if ("checking" in state && state.checking) return stay(state);
  return restart(turn, state, REFUSED_WAIT_SECONDS);
}

/** Back to INIT, without what was held. */
function restart({ nowMs }: Turn, state: DhcpClientState, waitSeconds: number): Outcome {
  const lease = dhcpClientLease(state);
  return {
    state: { state: "init", transactions: state.transactions, resumeAtMs: nowMs + waitSeconds * 1000 },
    actions: lease ? [{ do: "unconfigure", lease }] : [],
  };
}

/** The probe was answered: DHCPDECLINE, and not before ten seconds the next try. */
function onInUse(turn: Turn, state: DhcpClientState): Outcome {
  if (!("checking" in state) || !state.checking) return stay(state);
  const { lease } = state.checking;
  const message = compose(turn, state.transaction, 0, {
    kind: "decline",
    requested: lease.address,
    server: lease.server,
  });
  const next = restart(turn, state, DECLINE_WAIT_SECONDS);
  return { state: next.state, actions: [broadcast(message), ...next.actions] };
}

function onRelease(turn: Turn, state: DhcpClientState): Outcome {
  const idle: DhcpClientState = { state: "init", transactions: state.transactions };
  const lease = dhcpClientLease(state);
  if (!lease) return stay(idle);
  const transaction = transactionOf(turn.settings, state.transactions);
  const message = compose(turn, transaction, 0, { kind: "release", server: lease.server }, lease.address);
  return {
    state: { ...idle, transactions: state.transactions + 1, wanted: lease.address },
    actions: [
      { do: "send", message, from: lease.address, to: lease.server },
      { do: "unconfigure", lease },
    ],
  };
}

/** The lease ran out: its address is dropped, and asked for again. */
function expire(turn: Turn, transactions: number, lease: Lease): Outcome {
  const next = discover(turn, { transactions, wanted: lease.address });
  return { state: next.state, actions: [{ do: "unconfigure", lease }, ...next.actions] };
}

function discover(turn: Turn, from: { readonly transactions: number; readonly wanted?: Address }): Outcome {
  const asking = begin(turn, from.transactions);
  const wanted = from.wanted ? { wanted: from.wanted } : {};
  return sendDiscover(turn, { state: "selecting", ...wanted, offers: [], ...asking });
}

function sendDiscover(turn: Turn, state: In<"selecting">): Outcome {
  const fields: DhcpFields = { kind: "discover", requested: state.wanted, ...wishes(turn.settings) };
  return { state, actions: [broadcast(compose(turn, state.transaction, secondsSince(state), fields))] };
}

/** `secs`: kept from the discovery in the request that follows it (RFC 2131 section 3.1 step 3). */
function secondsSince({ sentMs, startedMs }: Asking): number {
  return Math.floor((sentMs - startedMs) / 1000);
}

function retryDiscover(turn: Turn, state: In<"selecting">): Outcome {
  return sendDiscover(turn, { ...state, ...again(turn, state) });
}

function select(turn: Turn, state: In<"selecting">, offer: DhcpMessage): Outcome {
  const { transactions, transaction, startedMs } = state;
  const first = { transactions, transaction, startedMs, ...tryAt(turn, transaction, 1) };
  return sendRequest(turn, { state: "requesting", offer, seconds: secondsSince(state), ...first });
}

function reboot(turn: Turn, transactions: number, lease: Lease): Outcome {
  return sendRequest(turn, { state: "rebooting", lease, ...begin(turn, transactions) });
}

/** The request of SELECTING names server and address; that of INIT-REBOOT the address only (RFC 2131 table 4). */
function sendRequest(turn: Turn, state: Waiting): Outcome {
  const isFirst = state.state === "requesting";
  const target = isFirst ? leaseOf(state.offer, turn.nowMs) : state.lease;
  if (!target) throw new Error("an offer without a lease was selected");
  const fields: DhcpFields = { kind: "request", requested: target.address, ...wishes(turn.settings) };
  const named = isFirst ? { ...fields, server: target.server } : fields;
  const seconds = isFirst ? state.seconds : secondsSince(state);
  return { state, actions: [broadcast(compose(turn, state.transaction, seconds, named))] };
}

/** After the last try: INIT from REQUESTING; from REBOOTING the rest of the old lease is used (section 3.2 step 3). */
function retryRequest(turn: Turn, state: Waiting): Outcome {
  if (state.attempt < REQUEST_TRIES) return sendRequest(turn, { ...state, ...again(turn, state) });
  if (state.state === "requesting") return discover(turn, { transactions: state.transactions });
  if (state.lease.endsAtMs <= turn.nowMs) return expire(turn, state.transactions, state.lease);
  return bind(state.transactions, state.lease);
}

/** Asks for more time: at T1 the server, at T2 everyone. */
function extend(turn: Turn, state: Extending["state"], transactions: number, lease: Lease): Outcome {
  const asking = begin(turn, transactions);
  const limitMs = state === "renewing" ? lease.rebindAtMs : lease.endsAtMs;
  const waitMs = Math.max(RENEW_MINIMUM_SECONDS * 1000, (limitMs - turn.nowMs) / 2);
  const fields: DhcpFields = { kind: "request", ...wishes(turn.settings) };
  const message = compose(turn, asking.transaction, 0, fields, lease.address);
  const to = state === "renewing" ? lease.server : EVERYONE;
  return {
    state: { state, lease, ...asking, retryAtMs: turn.nowMs + waitMs },
    actions: [{ do: "send", message, from: lease.address, to }],
  };
}

function begin(turn: Turn, transactions: number): Asking {
  const transaction = transactionOf(turn.settings, transactions);
  return { transactions: transactions + 1, transaction, startedMs: turn.nowMs, ...tryAt(turn, transaction, 1) };
}

function again(turn: Turn, { transaction, attempt }: Asking): Pick<Asking, "attempt" | "sentMs" | "retryAtMs"> {
  return tryAt(turn, transaction, attempt + 1);
}

/** Doubling delays from 4 to 64 seconds, each give or take one (RFC 2131 section 4.1). */
function tryAt(turn: Turn, transaction: number, attempt: number): Pick<Asking, "attempt" | "sentMs" | "retryAtMs"> {
  const delay = Math.min(FIRST_DELAY_SECONDS * 2 ** (attempt - 1), LONGEST_DELAY_SECONDS);
  const fuzz = turn.settings.fuzz?.(transaction, attempt) ?? 0;
  return { attempt, sentMs: turn.nowMs, retryAtMs: turn.nowMs + (delay + fuzz) * 1000 };
}

/** Different clients and different transactions of one client get different numbers, without chance. */
function transactionOf({ hardware }: DhcpClientSettings, transactions: number): number {
  const folded = Number((hardware ^ (hardware >> 24n)) & 0xffffffffn);
  return (Math.imul(folded, 0x9e3779b1) + transactions) >>> 0;
}

function wishes(settings: DhcpClientSettings): Pick<DhcpFields, "parameters" | "hostName"> {
  return { parameters: settings.parameters ?? DEFAULT_PARAMETERS, hostName: settings.hostName };
}

function compose(
  { settings }: Turn,
  transaction: number,
  seconds: number,
  fields: DhcpFields,
  clientAddress: Address = NO_ADDRESS,
): DhcpMessage {
  const mayAsk = fields.kind === "discover" || fields.kind === "request";
  return {
    operation: BOOT_REQUEST,
    hops: 0,
    transaction,
    seconds,
    flags: mayAsk && settings.broadcast ? DHCP_BROADCAST : 0,
    clientAddress,
    yourAddress: NO_ADDRESS,
    nextServer: NO_ADDRESS,
    relayAddress: NO_ADDRESS,
    clientHardware: settings.hardware,
    options: dhcpOptions({ clientIdentifier: settings.clientIdentifier, ...fields }),
  };
}

function broadcast(message: DhcpMessage): DhcpClientAction {
  return { do: "send", message, from: NO_ADDRESS, to: EVERYONE };
}
