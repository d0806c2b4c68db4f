/**
 * DHCPv4 relay agent (RFC 1542 section 4, RFC 2131, RFC 3046): carries requests of clients to servers elsewhere and the
 * answers back. It keeps no state. Relay information (option 82) is added only when told to, as the last option.
 */
import { type Address, type Hardware, type Ranges, rangesContain } from "../address/index.ts";
import type { DhcpRelay } from "../network/index.ts";
import { BOOT_REPLY, BOOT_REQUEST, DHCP_BROADCAST, DHCP_RELAY_INFORMATION, type DhcpMessage } from "../wire/index.ts";

/** Messages that passed more relays than this are dropped. RFC 1542 section 4.1.1: at most 16, by default 4. */
const RELAY_MAXIMUM_HOPS = 16;

/** What a relay is told once. */
export type DhcpRelaySettings = {
  /** Its configuration. */
  readonly service: DhcpRelay;
  /** Its address on the interface where clients ask: `giaddr` of what it relays. */
  readonly gateway: Address;
  /** All IPv4 addresses of this device, as numbers. */
  readonly own: Ranges;
  /** Drops what passed more relays than this, 1 to 16. Default: 4 (RFC 1542 section 4.1.1). */
  readonly maximumHops?: number;
  /** Content of option 82 to add. Default: adds none (RFC 3046 section 2.1). */
  readonly information?: Uint8Array;
  /** The side of the clients may carry option 82 although no relay signed it. Default: false. */
  readonly trusted?: boolean;
};

/** What a relay does with one message. */
export type DhcpRelayAction =
  | {
      /** To port 67 of each server, from port 67. */
      readonly do: "to-servers";
      /** As it goes on. */
      readonly message: DhcpMessage;
      /** IPv4 addresses of the servers. */
      readonly servers: readonly Address[];
    }
  | {
      /** To port 68 on the clients' interface; `host`: one station, by hardware address; else everyone. */
      readonly do: "to-client";
      /** As it goes on. */
      readonly message: DhcpMessage;
      /** The one station it is for; absent: everyone on the link. */
      readonly host?: { readonly address: Address; readonly hardware: Hardware };
    }
  | {
      readonly do: "drop";
      /** Why. */
      readonly reason:
        | "too-many-hops"
        | "not-for-this-relay"
        | "own-address-claimed"
        | "information-from-untrusted"
        | "no-dhcp";
    };

const DEFAULT_HOPS = 4;

/** A relay's part in one message, a request from the clients' side or an answer to `giaddr`. */
export function relayDhcp(settings: DhcpRelaySettings, message: DhcpMessage): DhcpRelayAction {
  if (message.operation === BOOT_REQUEST) return relayRequest(settings, message);
  if (message.operation === BOOT_REPLY) return relayReply(settings, message);
  return { do: "drop", reason: "no-dhcp" };
}

function relayRequest(settings: DhcpRelaySettings, message: DhcpMessage): DhcpRelayAction {
  const { service, gateway, own } = settings;
  const most = Math.min(settings.maximumHops ?? DEFAULT_HOPS, RELAY_MAXIMUM_HOPS);
  if (message.hops > most) return { do: "drop", reason: "too-many-hops" };
  const isFirst = message.relayAddress.value === 0n;
  if (!isFirst && rangesContain(own, message.relayAddress.value)) return { do: "drop", reason: "own-address-claimed" };
  const isSigned = hasInformation(message);
  if (isFirst && isSigned && !settings.trusted) return { do: "drop", reason: "information-from-untrusted" };
  const servers = service.servers.map((value): Address => ({ family: 4, value }));
  // A message that another relay signed keeps that relay's address and gets no information (RFC 3046 section 2.1.1).
  const relayAddress = isFirst ? gateway : message.relayAddress;
  const options = isFirst && !isSigned ? withInformation(settings, message) : message.options;
  return { do: "to-servers", message: { ...message, hops: message.hops + 1, relayAddress, options }, servers };
}

function hasInformation(message: DhcpMessage): boolean {
  return message.options.some(({ code }) => code === DHCP_RELAY_INFORMATION);
}

function withInformation({ information }: DhcpRelaySettings, { options }: DhcpMessage): DhcpMessage["options"] {
  return information ? [...options, { code: DHCP_RELAY_INFORMATION, bytes: information }] : options;
}

function relayReply(settings: DhcpRelaySettings, message: DhcpMessage): DhcpRelayAction {
  if (message.relayAddress.value !== settings.gateway.value) {
    return { do: "drop", reason: "not-for-this-relay" };
  }
  const options = settings.information
    ? message.options.filter(({ code }) => code !== DHCP_RELAY_INFORMATION)
    : message.options;
  const reply = { ...message, options };
  if ((message.flags & DHCP_BROADCAST) !== 0 || message.yourAddress.value === 0n)
    return { do: "to-client", message: reply };
  return { do: "to-client", message: reply, host: { address: message.yourAddress, hardware: message.clientHardware } };
}
