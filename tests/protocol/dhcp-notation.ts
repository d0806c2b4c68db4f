/**
 * A tiny notation for DHCP conversations: a server and clients with short names, times in seconds.
 */
import { formatAddress, parseAddress, ranges } from "../../src/address/index.ts";
import type { DhcpServer } from "../../src/network/index.ts";
import {
  type DhcpClientAction,
  type DhcpClientEvent,
  type DhcpClientSettings,
  type DhcpClientState,
  type DhcpFields,
  type DhcpServerAction,
  type DhcpServerState,
  dhcpKind,
  dhcpOptions,
  EMPTY_DHCP_SERVER,
  NEW_DHCP_CLIENT,
  stepDhcpClient,
  stepDhcpServer,
} from "../../src/protocol/index.ts";
import {
  BOOT_REPLY,
  BOOT_REQUEST,
  DHCP_LEASE_SECONDS,
  DHCP_SERVER_IDENTIFIER,
  type DhcpMessage,
  dhcpSeconds,
} from "../../src/wire/index.ts";

/** IPv4 number of a text. */
export function ip(text: string): bigint {
  const address = parseAddress(text);
  if (!address) throw new Error(`not an address: ${text}`);
  return address.value;
}

/** Address of a text. */
export const at = (text: string): { readonly family: 4; readonly value: bigint } => ({ family: 4, value: ip(text) });

/** A server of 10.71.40.0/24 at .1 that lends .100 to .102 for an hour. */
export const SERVICE: DhcpServer = {
  kind: "dhcp-server",
  interface: "edge/visitors",
  subnet: { value: ip("10.71.40.0"), length: 24 },
  pool: ranges([ip("10.71.40.100"), ip("10.71.40.102")]),
  order: "lowest-first",
  authoritative: true,
  reads: "socket",
  leaseSeconds: 3600,
  reservations: [],
  routers: [ip("10.71.40.1")],
  resolvers: [ip("10.71.40.1")],
  routes: [],
};

/** A reservation. */
export function reserve(hardware: bigint, address: string): DhcpServer["reservations"][number] {
  const origin = { by: "written", span: { file: 0, start: 0, end: 1 } } as const;
  return { id: `edge/visitors/${address}`, origin, hardware, value: ip(address) };
}

/** A client message. */
export function message(hardware: bigint, fields: DhcpFields, more: Partial<DhcpMessage> = {}): DhcpMessage {
  const none = at("0.0.0.0");
  return {
    operation:
      fields.kind === "offer" || fields.kind === "acknowledge" || fields.kind === "refuse" ? BOOT_REPLY : BOOT_REQUEST,
    hops: 0,
    transaction: 7,
    seconds: 0,
    flags: 0,
    clientAddress: none,
    yourAddress: none,
    nextServer: none,
    relayAddress: none,
    clientHardware: hardware,
    options: dhcpOptions(fields),
    ...more,
  };
}

/** A server with its table that goes by 10.71.50.1, too, told messages at times in seconds. */
export class TestServer {
  state: DhcpServerState = EMPTY_DHCP_SERVER;
  readonly #service: DhcpServer;
  readonly #profile: "linux" | "rfc";

  constructor(more: Partial<DhcpServer> = {}, profile: "linux" | "rfc" = "rfc") {
    this.#service = { ...SERVICE, ...more };
    this.#profile = profile;
  }

  /** What it does with a message. */
  hear(seconds: number, told: DhcpMessage, unicast = false): readonly DhcpServerAction[] {
    const others = ranges([ip("10.71.50.1"), ip("10.71.50.1")]);
    const settings = { service: this.#service, address: at("10.71.40.1"), others, profile: this.#profile };
    const result = stepDhcpServer(settings, this.state, { message: told, unicast }, seconds * 1000);
    this.state = result.state;
    return result.actions;
  }

  /** Its answer in words: "offer 10.71.40.100 for 3600", "refuse", "silence". */
  says(seconds: number, told: DhcpMessage, unicast = false): string {
    const sent = this.reply(seconds, told, unicast);
    if (!sent) return "silence";
    const kind = dhcpKind(sent) ?? "?";
    const lease = dhcpSeconds(sent, DHCP_LEASE_SECONDS);
    return kind === "refuse"
      ? kind
      : `${kind} ${formatAddress(sent.yourAddress)}${lease === undefined ? "" : ` for ${lease}`}`;
  }

  /** The message it sends. */
  reply(seconds: number, told: DhcpMessage, unicast = false): DhcpMessage | undefined {
    const actions = this.hear(seconds, told, unicast);
    return actions.flatMap((action) => (action.do === "send" ? [action.message] : []))[0];
  }

  /** Lends an address the usual way. */
  lend(seconds: number, hardware: bigint, requested?: string): string {
    const offer = this.reply(seconds, discover(hardware, requested === undefined ? {} : { requested: at(requested) }));
    if (!offer) return "silence";
    return this.says(seconds, request(hardware, { requested: offer.yourAddress, server: at("10.71.40.1") }));
  }
}

/** DHCPDISCOVER. */
export const discover = (
  hardware: bigint,
  fields: Partial<DhcpFields> = {},
  more: Partial<DhcpMessage> = {},
): DhcpMessage => message(hardware, { kind: "discover", ...fields }, more);

/** DHCPREQUEST. */
export const request = (
  hardware: bigint,
  fields: Partial<DhcpFields> = {},
  more: Partial<DhcpMessage> = {},
): DhcpMessage => message(hardware, { kind: "request", ...fields }, more);

/** A client told events at times in seconds. */
export class TestClient {
  state: DhcpClientState = NEW_DHCP_CLIENT;
  readonly settings: DhcpClientSettings;

  constructor(settings: Partial<DhcpClientSettings> = {}) {
    this.settings = { hardware: 0xaan, ...settings };
  }

  /** What it does at an event. */
  at(seconds: number, event: DhcpClientEvent): readonly DhcpClientAction[] {
    const result = stepDhcpClient(this.settings, this.state, event, seconds * 1000);
    this.state = result.state;
    return result.actions;
  }

  /** The message it sends at an event. */
  sends(seconds: number, event: DhcpClientEvent): DhcpMessage | undefined {
    return this.at(seconds, event).flatMap((action) => (action.do === "send" ? [action.message] : []))[0];
  }

  /** Hears an answer to its present transaction. */
  hears(seconds: number, fields: DhcpFields, address = "10.71.40.100"): readonly DhcpClientAction[] {
    const transaction = "transaction" in this.state ? this.state.transaction : 0;
    const yourAddress = at(fields.kind === "refuse" ? "0.0.0.0" : address);
    const told = message(this.settings.hardware, { server: at("10.71.40.1"), ...fields }, { transaction, yourAddress });
    return this.at(seconds, { kind: "received", message: told });
  }

  /** Takes a lease at second 0. */
  lease(leaseSeconds: number): this {
    this.at(0, { kind: "link-up" });
    this.hears(0, { kind: "offer", leaseSeconds });
    this.hears(0, { kind: "acknowledge", leaseSeconds });
    return this;
  }
}

/** Server identifier of a message, as text. */
export function serverOf(told: DhcpMessage): string | undefined {
  const option = told.options.find(({ code }) => code === DHCP_SERVER_IDENTIFIER);
  return option && Array.from(option.bytes).join(".");
}
