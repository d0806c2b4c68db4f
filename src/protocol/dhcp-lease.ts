/**
 * What a DHCPv4 client was given, read from an acknowledgement or offer. Option 121 (RFC 3442) goes before option 3:
 * where it stands, routers of option 3 are ignored, so that a list without a default route leaves the client without.
 */
import type { Address } from "../address/index.ts";
import type { DhcpMessage } from "../wire/index.ts";
import {
  addressesOption,
  addressOption,
  classlessRoutes,
  DHCP_OPTIONS,
  FOREVER_SECONDS,
  type LeaseRoute,
  maskLength,
  secondsOption,
  textOption,
} from "./dhcp-fields.ts";

/** A lease as its client holds it. */
export type Lease = {
  /** The address. */
  readonly address: Address;
  /** Length of the on-link prefix; 32 when the server gave no mask. */
  readonly prefixLength: number;
  /** Server identifier: where to renew. */
  readonly server: Address;
  /** From option 121, else the first router of option 3 as a default route. */
  readonly routes: readonly LeaseRoute[];
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
  const server = addressOption(message, DHCP_OPTIONS.serverIdentifier);
  const seconds = secondsOption(message, DHCP_OPTIONS.leaseSeconds);
  if (!server || seconds === undefined || message.yourAddress.value === 0n) return undefined;
  const domain = textOption(message, DHCP_OPTIONS.domain);
  return {
    address: message.yourAddress,
    prefixLength: maskLength(message) ?? 32,
    server,
    routes: routesOf(message),
    resolvers: addressesOption(message, DHCP_OPTIONS.resolvers),
    ...(domain === undefined ? {} : { domain }),
    seconds,
    sentMs,
    ...timesOf(message, seconds, sentMs),
  };
}

function routesOf(message: DhcpMessage): readonly LeaseRoute[] {
  const listed = classlessRoutes(message);
  if (listed) return listed;
  return addressesOption(message, DHCP_OPTIONS.routers)
    .slice(0, 1)
    .map((via) => ({ prefix: 0n, length: 0, via }));
}

/** T1 and T2 default to 0.5 and 0.875 of the lease (RFC 2131 section 4.4.5). */
function timesOf(
  message: DhcpMessage,
  seconds: number,
  sentMs: number,
): Pick<Lease, "renewAtMs" | "rebindAtMs" | "endsAtMs"> {
  if (seconds === FOREVER_SECONDS) return { renewAtMs: Infinity, rebindAtMs: Infinity, endsAtMs: Infinity };
  const renew = secondsOption(message, DHCP_OPTIONS.renewSeconds) ?? seconds * 0.5;
  const rebind = secondsOption(message, DHCP_OPTIONS.rebindSeconds) ?? seconds * 0.875;
  const at = (after: number) => sentMs + after * 1000;
  return { renewAtMs: at(renew), rebindAtMs: at(rebind), endsAtMs: at(seconds) };
}
