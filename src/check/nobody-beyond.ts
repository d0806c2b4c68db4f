/**
 * Private addresses beyond an upstream. A kernel sends such packets on, so proofs count them as having left; but nobody on the internet
 * has such an address, since routes to it are not told between providers (RFC 1918 section 3; RFC 4193 section 4.1 and RFC 6598 section 4
 * for their blocks, RFC 6890 for the others). A provider's own network is real: what it has an address in, resolvers that it hands out,
 * and what a route that is not the default one leads to it.
 */
import {
  type Address,
  formatAddress,
  isLinkLocal,
  isPublic,
  prefixContains,
  specialPurpose,
} from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import { directoryOf, settledStack, type World } from "../evaluate/index.ts";
import { deviceOf, type Id, type InterfaceAddress, type Network, type PathStep } from "../network/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import type { Destination } from "./exchange.ts";
import { covers } from "./rest.ts";

/** Nobody is at the address that was written, though an upstream took the request. */
export type NobodyBeyond = {
  /** A sentence fragment. */
  readonly text: string;
  /** What to do. */
  readonly help: string;
  /** The upstream. */
  readonly origin: Origin;
  /** The way there. */
  readonly way: readonly PathStep[];
};

/** Why nobody answers where an address was written; undefined: somebody may, or it is not beyond an upstream. */
export function nobodyBeyond(
  { outcome, path }: ProbeResult,
  { address, party }: Destination,
  { world, network }: { readonly world: World; readonly network: Network },
): NobodyBeyond | undefined {
  const [arrival] = outcome.arrivals;
  if (address === undefined || party !== undefined || arrival === undefined || isPublic(arrival.destination))
    return undefined;
  const upstream = directoryOf(network).stackAt.get(arrival.device);
  if (upstream?.answersFor !== "everywhere") return undefined;
  const own = settledStack(world.settled, upstream.id)?.interfaces.flatMap(({ addresses }) => addresses) ?? [];
  if (own.some((each) => !isLinkLocal(each) && covers(each, arrival.destination))) return undefined;
  if (isHandedOut(arrival.destination, upstream.id, network) || isRouted(arrival.destination, own, world))
    return undefined;
  const { device, origin } = upstream;
  const block = specialPurpose(arrival.destination)?.name ?? "Multicast";
  return {
    text: `it leaves by ${device}, and nobody on the internet has ${formatAddress(arrival.destination)} (${block}, RFC 6890)`,
    help: "write the address that was meant; where a device has it, let the plan hold that device",
    origin,
    way: path.filter(({ at }) => deviceOf(at) !== device),
  };
}

/** Whether an upstream tells its clients of a resolver there. */
function isHandedOut({ value }: Address, upstream: Id, { services }: Network): boolean {
  return services.some(
    (service) =>
      service.stack === upstream &&
      (service.kind === "dhcp-server" || service.kind === "advertise") &&
      service.resolvers.includes(value),
  );
}

/** Whether some stack has a route to that place by one of these addresses, not only to everything. */
function isRouted(address: Address, by: readonly InterfaceAddress[], { settled }: World): boolean {
  return settled.stacks.some(({ routes }) =>
    routes.some(({ family, prefix, length, action }) => {
      const leads = length > 0 && prefixContains({ family, value: prefix, length }, address);
      if (!leads || action.do !== "forward") return false;
      return action.hops.some(({ via }) => by.some((own) => own.family === family && own.value === via));
    }),
  );
}
