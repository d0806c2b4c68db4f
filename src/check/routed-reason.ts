/**
 * Why an exchange that was to stay in one network is routed: an end of it is plugged in elsewhere than its network is, or its
 * leg is given another network. That a router forwards is what routers do.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Id, Interface, Network } from "../network/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import { ownersOf, type Place, stackIn, wayOf } from "./rest.ts";
import { entryOf, hopsFrom, isAstray } from "./wires.ts";

/** Lines to change, most telling first. */
export function routedReasons({ request, outcome, path }: ProbeResult, place: Place): readonly Origin[] {
  const { network, settled } = place;
  const begins = path[0] && stackIn(settled, path[0].at);
  const way = begins && wayOf(begins, request.destination);
  const [arrival] = outcome.arrivals;
  const owners = arrival === undefined ? [] : ownersOf(arrival.destination, settled);
  const ends = [...owners.map((owner) => owner.interface), ...(way === undefined ? [] : [way.egress])];
  const legs = ends.flatMap((id) => hostLeg(id, network) ?? []);
  // A box with a leg in several networks is where legs are mixed up.
  const ordered = [
    ...legs.filter(({ others }) => others.length > 0),
    ...legs.filter(({ others }) => others.length === 0),
  ];
  return [
    ...ordered.flatMap((leg) => astrayLines(leg, place)),
    ...ordered.flatMap(({ leg }) => (leg.network === undefined ? [] : [leg.origin])),
  ];
}

/** A leg of a host with the host's other ones. */
type HostLeg = { readonly leg: Interface; readonly others: readonly Interface[] };

function hostLeg(id: Id, { stacks, devices }: Network): HostLeg | undefined {
  const stack = stacks.find(({ interfaces }) => interfaces.some((leg) => leg.id === id));
  const isHost = devices.some((device) => device.id === stack?.device && device.is === "host");
  const leg = isHost ? stack?.interfaces.find((each) => each.id === id) : undefined;
  return stack && leg && { leg, others: stack.interfaces.filter((each) => each !== leg) };
}

/** Where legs of one box are astray together their cables are in one another's sockets; one alone is put there by its port. */
function astrayLines({ leg, others }: HostLeg, place: Place): readonly Origin[] {
  if (!isElsewhere(leg, place)) return [];
  const { network, settled } = place;
  const cables = network.links.filter(({ ends }) => ends.includes(leg.on)).map(({ origin }) => origin);
  const entry = entryOf(hopsFrom(leg.id, network, settled), network, settled);
  const port = entry === undefined ? [] : [entry];
  return others.some((other) => isElsewhere(other, place)) ? [...cables, ...port] : [...port, ...cables];
}

function isElsewhere(leg: Interface, { network, settled }: Place): boolean {
  return isAstray(leg, hopsFrom(leg.id, network, settled), network);
}
