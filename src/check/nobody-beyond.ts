/**
 * Private addresses beyond an upstream. A kernel sends such packets on, so proofs count them as having left; but nobody on the internet
 * has such an address, since routes to it are not told between providers (RFC 1918 section 3; RFC 4193 section 4.1 and RFC 6598 section 4
 * for their blocks, RFC 6890 for the others). A provider's own network is real: what it has an address in.
 */
import { formatAddress, isLinkLocal, isPublic, specialPurpose } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import { directoryOf, settledStack, type World } from "../evaluate/index.ts";
import type { Network } from "../network/index.ts";
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
};

/** Why nobody answers where an address was written; undefined: somebody may, or it is not beyond an upstream. */
export function nobodyBeyond(
  { outcome }: ProbeResult,
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
  const { device, origin } = upstream;
  const block = specialPurpose(arrival.destination)?.name ?? "Multicast";
  return {
    text: `it leaves by ${device}, and nobody on the internet has ${formatAddress(arrival.destination)} (${block}, RFC 6890)`,
    help: "write the address that was meant; where a device has it, let the plan hold that device",
    origin,
  };
}
