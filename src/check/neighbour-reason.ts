/**
 * Why nobody answers for the next address on a link: what names the neighbour is wrong, or the sender's own prefix is too
 * wide, or something on the link keeps the two apart that no list of a port tells: a cable between two networks,
 * isolated ports, a bond that nobody speaks to, a cable in a dead socket.
 */
import type { Address } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import { deviceOf, type Interface, type InterfaceAddress, type Network, type SettledStack } from "../network/index.ts";
import { covers, namingLine, type Owner, ownersOf, type Place, stackIn, type Way, wayOf } from "./rest.ts";
import { emptyBetween } from "./unjoined.ts";
import {
  deadCablesOf,
  entryOf,
  heardIn,
  hopsFrom,
  isAstray,
  isMistagged,
  isolationBetween,
  joinOf,
  looseCablesOf,
  silentBondBetween,
} from "./wires.ts";

/** Lines to change, most telling first. `led` is the translation that named the destination, if one did. */
export function neighbourReasons(
  here: SettledStack,
  destination: Address,
  led: Origin | undefined,
  place: Place,
): readonly Origin[] {
  const way = wayOf(here, destination);
  if (way === undefined) return [];
  const leg = here.interfaces.find(({ interface: id }) => id === way.egress);
  const own = leg?.addresses.find((address) => covers(address, way.hop));
  const owners = ownersOf(way.hop, place.settled);
  if (way.isRouted && (owners.length === 0 || own === undefined)) return [namingLine(way, place)];
  if (owners.length === 0) return led === undefined ? [] : [led];
  return owners.flatMap((owner) => reasonsApart(way, own, owner, place));
}

function reasonsApart(
  { egress, isRouted }: Way,
  own: InterfaceAddress | undefined,
  owner: Owner,
  { network, settled }: Place,
): readonly Origin[] {
  const hops = hopsFrom(egress, network, settled);
  if (heardIn(hops, egress).includes(owner.interface)) return [];
  // A neighbour by the sender's prefix, and none by its own.
  if (!isRouted && own !== undefined && !covers(owner.address, own)) return [own.origin];
  const [one, other] = [interfaceOf(egress, network), interfaceOf(owner.interface, network)];
  const bonds = silentBondBetween(one, other, network, settled);
  return [
    ...[one, other].flatMap((leg) => (isMistagged(leg, network) ? [leg.origin] : [])),
    ...[joinOf(hops, network, settled) ?? []].flat(),
    ...[isolationBetween(egress, owner.interface, network, settled) ?? []].flat(),
    ...[one, other].flatMap((leg) => astrayAt(leg, { network, settled })),
    ...bonds,
    ...deadCablesOf(deviceOf(owner.interface), network, settled),
    ...looseEnds(owner, { network, settled }),
    ...(bonds.length > 0 ? [] : emptyBetween(deviceOf(egress), deviceOf(owner.interface), network)),
  ];
}

/** What put an interface among others than those of its network. */
function astrayAt(leg: Interface, { network, settled }: Place): readonly Origin[] {
  const hops = hopsFrom(leg.id, network, settled);
  return isAstray(leg, hops, network) ? [entryOf(hops, network, settled) ?? []].flat() : [];
}

/** The owner has nothing plugged in there: cables that are in ports of its device which nothing uses. */
function looseEnds({ stack, interface: id }: Owner, { network, settled }: Place): readonly Origin[] {
  const leg = stackIn(settled, stack)?.interfaces.find((each) => each.interface === id);
  return leg?.up === false ? looseCablesOf(deviceOf(stack), network) : [];
}

function interfaceOf(id: string, { stacks }: Network): Interface {
  const leg = stacks.flatMap(({ interfaces }) => interfaces).find((each) => each.id === id);
  if (leg === undefined) throw new Error(`no interface \`${id}\``);
  return leg;
}
