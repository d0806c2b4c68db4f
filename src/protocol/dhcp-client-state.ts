/**
 * A DHCPv4 client's settings, states, events and actions: one record for each of the eight states of RFC 2131 figure 5.
 */
import type { Address, Hardware } from "../address/index.ts";
import type { DhcpMessage } from "../wire/index.ts";
import type { Lease } from "./dhcp-lease.ts";
import { earliest } from "./transition.ts";

/** What a client is told once. */
export type DhcpClientSettings = {
  /** Its hardware address. */
  readonly hardware: Hardware;
  /** Option 61; absent: sends none. */
  readonly clientIdentifier?: Uint8Array;
  /** Option 12; absent: sends none. */
  readonly hostName?: string;
  /** Option 55: codes asked for; 121 has to stand before 3 (RFC 3442). Default: 1, 121, 3, 6, 15, 51, 58, 59. */
  readonly parameters?: readonly number[];
  /** Asks servers to broadcast their answers. Default: false. */
  readonly broadcast?: boolean;
  /** How long it collects offers after the first; 0 takes the first. Default: 0. */
  readonly collectMs?: number;
  /** How long it waits for an answer to its address probe; 0 does not probe. Default: 0. */
  readonly probeMs?: number;
  /** Random number from -1 to 1 for a try; the same for the same numbers. Default: 0. */
  readonly fuzz?: (transaction: number, attempt: number) => number;
};

/** An answer under way: which transaction, since when, which try, and when the next one is due. */
export type Asking = {
  /** Transactions begun so far; the next one's number follows from it. */
  readonly transactions: number;
  /** `xid` in use. */
  readonly transaction: number;
  /** When the process began. */
  readonly startedMs: number;
  /** When the last message was sent. */
  readonly sentMs: number;
  /** Tries so far. */
  readonly attempt: number;
  /** When to try again. */
  readonly retryAtMs: number;
};

/** An acknowledged lease whose address is being probed. */
export type Checking = {
  /** What was acknowledged; absent: nothing yet. */
  readonly checking?: { readonly lease: Lease; readonly untilMs: number };
};

/** The state of a client, named as in RFC 2131 figure 5. */
export type DhcpClientState =
  | {
      /** Knows nothing, or is waiting before it asks again. */
      readonly state: "init";
      /** Transactions begun so far. */
      readonly transactions: number;
      /** When it begins by itself; absent: at `link-up`. */
      readonly resumeAtMs?: number;
      /** Address it had and would like again. */
      readonly wanted?: Address;
    }
  | ({
      /** Sent DHCPDISCOVER, collects offers. */
      readonly state: "selecting";
      /** Address it had and would like again. */
      readonly wanted?: Address;
      /** Offers so far, in order of arrival. */
      readonly offers: readonly DhcpMessage[];
      /** When it chooses; absent: no offer yet. */
      readonly chooseAtMs?: number;
    } & Asking)
  | ({
      /** Chose an offer, waits for the acknowledgement, then for the probe. */
      readonly state: "requesting";
      /** The offer chosen. */
      readonly offer: DhcpMessage;
      /** `secs` of the discovery, kept in the request. */
      readonly seconds: number;
    } & Asking &
      Checking)
  | {
      /** Remembers a lease and is about to ask whether it still holds. */
      readonly state: "init-reboot";
      /** Transactions begun so far. */
      readonly transactions: number;
      /** The lease held. */
      readonly lease: Lease;
    }
  | ({
      /** Asked whether its lease still holds. */
      readonly state: "rebooting";
      /** The lease held. */
      readonly lease: Lease;
    } & Asking &
      Checking)
  | {
      /** Holds a lease. */
      readonly state: "bound";
      /** Transactions begun so far. */
      readonly transactions: number;
      /** The lease held. */
      readonly lease: Lease;
    }
  | ({
      /** Past T1: asks its server for more time. */
      readonly state: "renewing";
      /** The lease held. */
      readonly lease: Lease;
    } & Asking)
  | ({
      /** Past T2: asks any server for more time. */
      readonly state: "rebinding";
      /** The lease held. */
      readonly lease: Lease;
    } & Asking);

/** A client that was never connected. */
export const NEW_DHCP_CLIENT: DhcpClientState = { state: "init", transactions: 0 };

/** What happens to a client. */
export type DhcpClientEvent =
  | {
      /** The link came up: begin, or check the lease held (a stale one survives as long as the link does). */
      readonly kind: "link-up";
    }
  | {
      readonly kind: "received";
      /** A message from port 67 to port 68. */
      readonly message: DhcpMessage;
    }
  | {
      /** Somebody answered the probe. */
      readonly kind: "address-in-use";
    }
  | {
      /** The moment of `dhcpClientWakeMs` has come. */
      readonly kind: "timer";
    }
  | {
      /** Gives its lease back and stops. */
      readonly kind: "release";
    };

/** What a client wants done. */
export type DhcpClientAction =
  | {
      readonly do: "send";
      /** What is sent. */
      readonly message: DhcpMessage;
      /** Source of the packet: 0.0.0.0 until an address is held. */
      readonly from: Address;
      /** 255.255.255.255 or the server. */
      readonly to: Address;
    }
  | {
      /** Ask who has the address, from 0.0.0.0. */
      readonly do: "probe";
      /** The address in question. */
      readonly address: Address;
    }
  | {
      /** Use the lease from now on; tell the neighbours. */
      readonly do: "configure";
      /** The lease. */
      readonly lease: Lease;
    }
  | {
      /** Stop using it at once. */
      readonly do: "unconfigure";
      /** The lease. */
      readonly lease: Lease;
    };

/** When the client wants a `timer` event; undefined or `Infinity`: not by itself. */
export function dhcpClientWakeMs(state: DhcpClientState): number | undefined {
  switch (state.state) {
    case "init":
      return state.resumeAtMs;
    case "selecting":
      return earliest(state.chooseAtMs, state.retryAtMs);
    case "requesting":
    case "rebooting":
      return state.checking ? state.checking.untilMs : state.retryAtMs;
    case "init-reboot":
      return undefined;
    case "bound":
      return state.lease.renewAtMs;
    case "renewing":
      return earliest(state.retryAtMs, state.lease.rebindAtMs);
    case "rebinding":
      return earliest(state.retryAtMs, state.lease.endsAtMs);
  }
}

/** The lease that the client uses now. */
export function dhcpClientLease(state: DhcpClientState): Lease | undefined {
  return "lease" in state ? state.lease : undefined;
}
