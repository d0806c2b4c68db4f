/**
 * Exchanges that work, but with somebody else: the request came to another stack than was meant. Where whoever has the address led it
 * on by a forward of his, that is what was meant; what somebody else diverts on its way never got there.
 */
import { addressKey, formatAddress, isPublic } from "../address/index.ts";
import { directoryOf } from "../evaluate/index.ts";
import { deviceOf, type Network, type PathStep } from "../network/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import type { Destination, Source } from "./exchange.ts";
import { type Place, stackIn } from "./rest.ts";
import type { WayFault } from "./way.ts";

/** With whom else an exchange works than was meant; undefined: it is who was meant. */
export function strayFault(
  result: ProbeResult,
  { source, destination }: { readonly source: Source; readonly destination: Destination },
  place: Place,
): WayFault | undefined {
  const { request, outcome, path } = result;
  const { party } = destination;
  const [arrival] = outcome.arrivals;
  const last = path.at(-1);
  if (arrival === undefined || last === undefined) return undefined;
  const isChanged = addressKey(arrival.destination) !== addressKey(request.destination);
  const lead = isChanged ? leadOn(path) : undefined;
  if (lead !== undefined && !isForwarder(lead, { source, destination }, result, place))
    return isMeant(arrival.device, destination, place.network)
      ? undefined
      : { text: `it is diverted to ${arrival.device}`, origin: lead.origin };
  if (isChanged || party === undefined || isMeant(arrival.device, destination, place.network)) return undefined;
  if (arrival.device !== deviceOf(source.stack)) return { text: `it comes to ${arrival.device}`, origin: last.origin };
  const legs = stackIn(place.settled, source.stack)?.interfaces ?? [];
  const asked = addressKey(request.destination);
  const own = legs.flatMap(({ addresses }) => addresses).find((each) => addressKey(each) === asked);
  if (own === undefined) return { text: `${arrival.device} knows no way there`, origin: last.origin };
  return { text: `${arrival.device} has ${formatAddress(request.destination)} itself`, origin: own.origin };
}

/** The device of the party; of the internet, and of addresses that nobody has, an upstream. */
function isMeant(device: string, { party }: Destination, network: Network): boolean {
  if (party !== undefined) return device === deviceOf(party.stack);
  return directoryOf(network).stackAt.get(device)?.answersFor === "everywhere";
}

/** The rule by which a destination was first rewritten: its step is the one before that. */
function leadOn(path: readonly PathStep[]): PathStep | undefined {
  const changed = path.findIndex(({ did, detail }) => did === "translate" && detail.startsWith("destination "));
  return path.slice(0, Math.max(0, changed)).findLast(({ did }) => did === "translate");
}

/**
 * Whether a rule stands for the address that was asked: its stack has it; or nobody has it, and the rule names it. From inside, the internet
 * has every public one.
 */
function isForwarder(
  lead: PathStep,
  { source, destination: { address, party } }: { readonly source: Source; readonly destination: Destination },
  { request }: ProbeResult,
  { network }: Place,
): boolean {
  if (party !== undefined) return deviceOf(lead.at) === deviceOf(party.stack);
  const isFromOutside = directoryOf(network).stacks.get(source.stack)?.answersFor === "everywhere";
  if (address === undefined || (!isFromOutside && isPublic(request.destination))) return false;
  const rules = network.tables.flatMap((table) => (table.kind === "translate" ? table.rules : []));
  const rule = rules.find(({ id }) => id === lead.detail);
  return rule?.when.some((match) => match.some(({ field }) => field === "destination")) === true;
}
