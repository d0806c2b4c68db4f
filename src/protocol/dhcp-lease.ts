/**
 * What a DHCPv4 client was given, read from an acknowledgement or offer. Option 121 (RFC 3442) goes before option 3:
 * where it stands, routers of option 3 are ignored, so that a list without a default route leaves the client without.
 */
import type { Address } from "../address/index.ts";
import {
  DHCP_DOMAIN_NAME,
  DHCP_LEASE_SECONDS,
  DHCP_REBINDING_SECONDS,
  DHCP_RENEWAL_SECONDS,
  DHCP_RESOLVERS,
  DHCP_ROUTERS,
  DHCP_SERVER_IDENTIFIER,
  type DhcpMessage,
  dhcpAddress,
  dhcpAddresses,
  dhcpClasslessRoutes,
  dhcpSeconds,
  dhcpText,
} from "../wire/index.ts";
import { FOREVER_SECONDS, type LeaseHop, maskLength } from "./dhcp-fields.ts";

/** A lease as its client holds it. */
export type Lease = {
  /** The address. */
  readonly address: Address;
  /** Length of the on-link prefix; 32 when the server gave no mask. */
  readonly prefixLength: number;
  /** Server identifier: where to renew. */
  readonly server: Address;
  /** From option 121, else the first router of option 3 as a default route. */
  readonly routes: readonly LeaseHop[];
  /** IPv4 numbers of resolvers, in order. */
  readonly resolvers: readonly bigint[];
  /** Domain name. */
  readonly domain?: string;
  /** Length of the lease; `FOREVER_SECONDS` never ends. */
  readonly seconds: number;
  /** When the request was sent that it answers: lease times count from there (RFC 2131 section 4.4.1). */
  readonly sentMs: number;
  /** T1: when to ask the server for more time. `Infinity`: never. */
  readonly renewAtMs: number;
  /** T2: when to ask any server. `Infinity`: never. */
  readonly rebindAtMs: number;
  /** When it ends. `Infinity`: never. */
  readonly endsAtMs: number;
};

/** The lease in an acknowledgement or offer; undefined when an address, a server or a lease time is missing. */
export function leaseOf(message: DhcpMessage, sentMs: number): Lease | undefined {
  const server = dhcpAddress(message, DHCP_SERVER_IDENTIFIER);
  const seconds = dhcpSeconds(message, DHCP_LEASE_SECONDS);
  if (!server || seconds === undefined || message.yourAddress.value === 0n) return undefined;
  const domain = dhcpText(message, DHCP_DOMAIN_NAME);
  return {
    address: message.yourAddress,
    prefixLength: maskLength(message) ?? 32,
    server,
    routes: routesOf(message),
    resolvers: (dhcpAddresses(message, DHCP_RESOLVERS) ?? []).map(({ value }) => value),
    ...(domain === undefined ? {} : { domain }),
    seconds,
    sentMs,
    ...timesOf(message, seconds, sentMs),
  };
}

function routesOf(message: DhcpMessage): readonly LeaseHop[] {
  const listed = dhcpClasslessRoutes(message);
  if (listed) return listed.map(({ prefix, router }) => hop(prefix.value, prefix.length, router.value));
  return (dhcpAddresses(message, DHCP_ROUTERS) ?? []).slice(0, 1).map(({ value }) => hop(0n, 0, value));
}

function hop(prefix: bigint, length: number, via: bigint): LeaseHop {
  return via === 0n ? { prefix, length } : { prefix, length, via };
}

/** T1 and T2 default to 0.5 and 0.875 of the lease (RFC 2131 section 4.4.5). */
function timesOf(
  message: DhcpMessage,
  seconds: number,
  sentMs: number,
): Pick<Lease, "renewAtMs" | "rebindAtMs" | "endsAtMs"> {
  if (seconds === FOREVER_SECONDS) return { renewAtMs: Infinity, rebindAtMs: Infinity, endsAtMs: Infinity };
  const renew = dhcpSeconds(message, DHCP_RENEWAL_SECONDS) ?? seconds * 0.5;
  const rebind = dhcpSeconds(message, DHCP_REBINDING_SECONDS) ?? seconds * 0.875;
  const at = (after: number) => sentMs + after * 1000;
  return { renewAtMs: at(renew), rebindAtMs: at(rebind), endsAtMs: at(seconds) };
}
