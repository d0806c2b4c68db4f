/**
 * Where translations can lead packets that are sent to an end. Who names an address, a leg or a device means what is sent to it,
 * wherever a forward leads that: whoever has an address takes what is sent to it, be it only to lead it on. What somebody else
 * diverts on its way never gets there, so it is no forward. An address that nobody has is that of whoever translates it by name.
 */
import { EMPTY_RANGES, type Ranges, rangesOf, subtractRanges, unionRanges } from "../address/index.ts";
import type { Network } from "../network/index.ts";
import { ledFrom, type SentTo } from "../prove/index.ts";
import type { Evaluation } from "./evaluation.ts";
import { type Holders, holdersOf } from "./holders.ts";
import { homesOf, type ReachEnd, startOf } from "./reach.ts";
import type { World } from "./worlds.ts";

/** Packets between two ends, as far as a forward leads them elsewhere. */
export type Led = {
  /** Destinations that they are sent to. */
  readonly sent: Ranges;
  /** What else these can become, with something plugged in where they begin, too. */
  readonly to: Ranges;
};

/** What forwards make in one world of packets that are sent from one end to another; undefined: nothing, or it is a network or the internet that is meant. */
export function ledBetween(from: ReachEnd, to: ReachEnd, world: World, evaluation: Evaluation): Led | undefined {
  const { network, footprint } = evaluation;
  const sent = sentTo(to, world);
  if (sent.length === 0) return undefined;
  const free = to.addresses === undefined ? EMPTY_RANGES : nobodys(from, sent, holdersOf(world.settled), network);
  const asked: SentTo = { destinations: sent, free };
  footprint.led(asked);
  footprint.owners(sent);
  const plugged = evaluation.pluggedAt(world, startOf(from, network).entrances)?.translating;
  const led = [evaluation.translatingIn(world), plugged].reduce(
    (all, each) => (each === undefined ? all : unionRanges(all, ledFrom(asked, each))),
    EMPTY_RANGES,
  );
  // What stays among them is asked about by itself; put there unchanged it was led nowhere.
  const elsewhere = subtractRanges(led, sent);
  return elsewhere.length === 0 ? undefined : { sent, to: elsewhere };
}

/** Addresses that packets to an end are sent to; of a network or the internet: none. */
function sentTo({ group, addresses }: ReachEnd, { settled }: World): Ranges {
  if (addresses !== undefined) return addresses;
  const isStation = group.kind === "leg" || group.kind === "host" || group.kind === "device";
  if (!isStation || group.upstreams.length > 0) return EMPTY_RANGES;
  const { legs } = holdersOf(settled);
  return rangesOf(group.interfaces.flatMap((id) => [...(legs.get(id)?.keys ?? [])]));
}

/** Those that nobody has; seen from inside the internet has all that are public. */
function nobodys(from: ReachEnd, sent: Ranges, { sorted }: Holders, network: Network): Ranges {
  const free = subtractRanges(sent, rangesOf(sorted.map(([key]) => key)));
  const homes = from.addresses === undefined ? [from.group] : homesOf(from.addresses, network);
  if (homes.some(({ kind }) => kind === "internet" || kind === "internet-public")) return free;
  const beyond = network.groups.filter(({ kind, upstreams }) => kind === "internet-public" && upstreams.length > 0);
  return beyond.reduce((left, { addresses }) => subtractRanges(left, addresses), free);
}
