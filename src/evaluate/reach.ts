/**
 * A question about all packets between two groups of a description: who may begin them where, and what counts as arriving.
 */
import { type Ranges, rangesOverlap } from "../address/index.ts";
import { deviceOf, type Group, type Id, type Network } from "../network/index.ts";
import type { Question, Target } from "../prove/index.ts";
import { directoryOf } from "./directory.ts";

/** One end of such a question. */
export type ReachEnd = {
  /** What it means. */
  readonly group: Group;
  /** The addresses, when addresses were written instead of a name. */
  readonly addresses?: Ranges;
};

/** Hosts send what they like, so their frames enter from outside; managed devices send what their stacks send. */
export function startOf({ group, addresses }: ReachEnd, network: Network): Pick<Question, "entrances" | "senders"> {
  const entrances = [...new Set(group.entrances.map((entrance) => entrance.at))];
  if (entrances.length === 0 || group.kind === "device") return { entrances, senders: sendersOf(group, network) };
  const managed = group.begins.filter((party) => !isHost(party.stack, network));
  return { entrances, senders: isOneAddress(addresses) ? managed : [] };
}

/**
 * Who of a group sends by itself what nobody vouches for: all but hosts that send by cables alone at which they are trusted to
 * send only as themselves.
 */
export function sendersOf({ begins, entrances, vouched }: Group, network: Network): Group["begins"] {
  if (vouched.length === 0) return begins;
  const trusted = new Set(vouched.map(({ device }) => device));
  const isBeside = (device: Id): boolean =>
    directoryOf(network)
      .groups.get(device)
      ?.entrances.some(({ at }) => entrances.some((each) => each.at === at)) === true;
  return begins.filter(({ stack }) => !trusted.has(deviceOf(stack)) || isBeside(deviceOf(stack)));
}

/** One address that was written: of a managed device, it is the device that is meant. */
export function isOneAddress(addresses: Ranges | undefined): boolean {
  return addresses?.[0] !== undefined && addresses[0][0] === addresses[0][1];
}

function isHost(stack: Id, network: Network): boolean {
  return directoryOf(network).devices.get(deviceOf(stack))?.is === "host";
}

/** Delivery counts at the stacks that stand in a network; at any stack for addresses that were written. */
export function targetOf({ group, addresses }: ReachEnd, network: Network): Target {
  const { stackOf } = directoryOf(network);
  const standing = group.interfaces.flatMap((leg) => stackOf.get(leg)?.id ?? []);
  const parties = group.parties.map((party) => party.stack);
  const holders = addresses === undefined ? [] : homesOf(addresses, network);
  const target = {
    addresses: group.addresses,
    interfaces: group.interfaces,
    stacks: addresses === undefined ? [...new Set([...parties, ...standing])] : [],
    segments: group.segments,
    homes: holders.flatMap(({ segments }) => segments),
    upstreams: group.upstreams,
  };
  // The provider's own pages on private addresses are no part of the public internet.
  return group.kind === "internet-public" ? { ...target, interfaces: [], beyond: group.addresses } : target;
}

/** Delivery to some addresses counts, wherever it is, and so does what is put on the link where they would live. */
export function addressTarget(addresses: Ranges, network: Network): Target {
  const homes = homesOf(addresses, network).flatMap(({ segments }) => segments);
  return { addresses, interfaces: [], stacks: [], segments: [], homes, upstreams: [] };
}

/** Networks, and the internet, where packets from these addresses can begin. */
export function homesOf(written: Ranges, { groups }: Network): readonly Group[] {
  return groups.filter(
    ({ kind, addresses }) => (kind === "network" || kind === "internet") && rangesOverlap(addresses, written),
  );
}

/** Links that must be up for a group's stand-in clients to exist. */
export function guestLinksOf({ standIns: [guest] }: Group, network: Network): readonly Id[] {
  return (guest === undefined ? undefined : directoryOf(network).onDemandOf.get(guest)) ?? [];
}
