/**
 * Two stations of a link with one hardware address: bridges send what is for either of them to whoever spoke last (IEEE 802.1Q section
 * 8.7, from memory), so an answer may go to the other one.
 */
import type { Origin } from "../diagnose/index.ts";
import { deviceOf, type Id, lastName } from "../network/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import { ownersOf, type Place, stackIn, wayOf } from "./rest.ts";
import { heardIn, hopsFrom } from "./wires.ts";

/** What is to be said of an exchange in which nobody answered for a neighbour, as another station has its hardware address. */
export function sharedHardware(
  { fate, answerFate, request }: ProbeResult,
  { network, settled }: Place,
): { readonly text: string; readonly origin: Origin } | undefined {
  const end = fate.end === "delivered" ? answerFate : fate;
  if (end === undefined || !("reason" in end) || end.reason !== "no-neighbour") return undefined;
  const here = stackIn(settled, end.at);
  const way = here && wayOf(here, end === fate ? request.destination : request.source);
  if (way === undefined) return undefined;
  const heard = [way.egress, ...heardIn(hopsFrom(way.egress, network, settled), way.egress)];
  const legs = new Map(network.stacks.flatMap(({ interfaces }) => interfaces.map((leg) => [leg.id, leg] as const)));
  for (const id of [way.egress, ...ownersOf(way.hop, settled).map((owner) => owner.interface)]) {
    const own = legs.get(id);
    const twin = heard.find((other) => deviceOf(other) !== deviceOf(id) && legs.get(other)?.hardware === own?.hardware);
    const leg = twin === undefined ? undefined : legs.get(twin);
    if (own === undefined || leg === undefined) continue;
    return { text: `${nameOf(id)} and ${nameOf(leg.id)} have one hardware address`, origin: leg.origin };
  }
  return undefined;
}

function nameOf(id: Id): string {
  return `${deviceOf(id)}/${lastName(id)}`;
}
