/**
 * Two devices that no cable joins, though sockets on both sides are there for the same VLANs: what was pulled, or never plugged in.
 */
import { rangesOverlap } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import { type BridgePort, deviceOf, type Id, type Network } from "../network/index.ts";

/** The empty sockets that would face one another, those of the far side first; none where the devices are joined. */
export function emptyBetween(near: Id, far: Id, network: Network): readonly Origin[] {
  const [here, there] = [near, far].map((device) => joinedTo(device, network));
  if (here === undefined || there === undefined || here.has(far)) return [];
  const [ours, theirs] = [here, there].map((devices) => emptySockets(devices, network));
  const facing = (some: readonly BridgePort[] = [], others: readonly BridgePort[] = []): readonly BridgePort[] =>
    some.filter((socket) => others.some((other) => isForSame(socket, other)));
  return [...facing(theirs, ours), ...facing(ours, theirs)].map(({ on, origin }) => noCableIn([on], origin));
}

/** That no cable is in any of some sockets, told at a line that is there for them. */
export function noCableIn(sockets: readonly Id[], line: Origin): Origin {
  return lacking(line, `a cable in \`${sockets.join("` or `")}\``);
}

/** That something is missing at a line, as a phrase. */
export function lacking({ span, through }: Origin, wanted: string): Origin {
  return { by: "absent", wanted, span, ...(through === undefined ? {} : { through }) };
}

/** A device with all that cables and radios join to it. */
function joinedTo(device: Id, { links }: Network): ReadonlySet<Id> {
  const reached = new Set([device]);
  for (const one of reached)
    for (const { ends, onDemand } of links)
      if (!onDemand && ends.some((end) => deviceOf(end) === one)) for (const end of ends) reached.add(deviceOf(end));
  return reached;
}

/** Sockets that a list of switched ports names, and no cable is in: clients that exist only in questions take none. */
export function emptySockets(devices: ReadonlySet<Id>, { bridges, links, ports }: Network): readonly BridgePort[] {
  const isEmpty = (id: Id): boolean =>
    ports.some((port) => port.id === id) && !links.some(({ ends, onDemand }) => !onDemand && ends.includes(id));
  return bridges
    .filter(({ device }) => devices.has(device))
    .flatMap((bridge) => bridge.ports.filter(({ on, origin }) => origin.by === "written" && isEmpty(on)));
}

function isForSame(one: BridgePort, other: BridgePort): boolean {
  return one.members.some((member) => other.members.some(({ vlans }) => rangesOverlap(member.vlans, vlans)));
}
