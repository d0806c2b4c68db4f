/**
 * Addresses that come with a PPP session (IPCP, RFC 1332 section 3.3): a client that says 0.0.0.0 is told the address to use.
 * Which one follows from the same pool, order and memory as a lease does.
 */
import type { Hardware } from "../address/index.ts";
import type { DhcpServer } from "../network/index.ts";
import { chooseAddress, withBinding } from "./dhcp-bindings.ts";
import type { DhcpServerState } from "./dhcp-server-state.ts";

/** A server's memory, and the address as an IPv4 number; absent: the pool has none left. */
export type GivenAddress = {
  /** After it was given. */
  readonly state: DhcpServerState;
  /** The address. */
  readonly value?: bigint;
};

/** Gives the caller with this hardware address an address for its session. */
export function giveSessionAddress(
  service: DhcpServer,
  state: DhcpServerState,
  hardware: Hardware,
  nowMs: number,
): GivenAddress {
  const client = `session ${hardware.toString(16)}`;
  const value = chooseAddress(service, state.bindings, { client, hardware }, nowMs);
  if (value === undefined) return { state };
  const { leaseSeconds } = service;
  const untilMs = Number.POSITIVE_INFINITY; // as long as the session lasts
  const binding = { value, client, hardware, condition: "bound", untilMs, leaseSeconds } as const;
  return { state: { bindings: withBinding(state.bindings, binding) }, value };
}
