/**
 * A DHCPv4 server's settings, memory, events and actions.
 */
import type { Address, Hardware, Ranges } from "../address/index.ts";
import type { DhcpServer } from "../network/index.ts";
import type { DhcpMessage } from "../wire/index.ts";
import type { DhcpBindings } from "./dhcp-bindings.ts";

/** What a server is told once. */
export type DhcpServerSettings = {
  /** Its configuration. */
  readonly service: DhcpServer;
  /** Its address on the interface: the server identifier. */
  readonly address: Address;
  /** Its other IPv4 addresses, as numbers: each names it as well (RFC 2131 section 4.1). Default: none. */
  readonly others?: Ranges;
  /**
   * `rfc` is silent to a rebooting client it has no record of (section 4.3.2). `linux`, when authoritative, acknowledges it
   * if the address is free and refuses a request that names another server (kernel facts 27 and 28).
   */
  readonly profile: "linux" | "rfc";
};

/** A server's memory. */
export type DhcpServerState = {
  /** Ascending by address. */
  readonly bindings: DhcpBindings;
};

/** A server that has lent nothing yet. */
export const EMPTY_DHCP_SERVER: DhcpServerState = { bindings: [] };

/** A message of a client, maybe by way of a relay. */
export type DhcpServerEvent = {
  /** As it arrived. */
  readonly message: DhcpMessage;
  /** False when it was sent to the limited broadcast address, not to this server's own. */
  readonly unicast: boolean;
};

/** Where an answer goes (RFC 2131 section 4.1). */
export type DhcpDelivery =
  | {
      /** To port 67 of the relay. */
      readonly to: "relay";
      /** `giaddr`. */
      readonly address: Address;
    }
  | {
      /** To port 68 of one host. */
      readonly to: "host";
      /** `ciaddr`, or `yiaddr`. */
      readonly address: Address;
      /** Hardware address to send to without asking for it, where the host has no address yet. */
      readonly hardware?: Hardware;
    }
  | {
      /** To port 68 at 255.255.255.255, on the interface where the message came in. */
      readonly to: "everyone";
    };

/** What a server wants done. */
export type DhcpServerAction =
  | {
      readonly do: "send";
      /** The answer. */
      readonly message: DhcpMessage;
      /** Where to. */
      readonly delivery: DhcpDelivery;
    }
  | {
      readonly do: "log";
      /** Why nothing, or a refusal, was sent; or that an address is in use by somebody unknown. */
      readonly what: "exhausted" | "unknown-client" | "foreign-network" | "other-server" | "declined" | "not-available";
      /** The client. */
      readonly hardware: Hardware;
    };
