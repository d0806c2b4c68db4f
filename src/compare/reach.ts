/**
 * Everything that gets from one end to another in one state of a site, under some outcome of what is open: packets that
 * need no others before them, and those that do (answers, errors).
 */
import { type Evaluation, Footprint, guestLinksOf, startOf, targetOf } from "../evaluate/index.ts";
import {
  type Alternatives,
  type AskedPackets,
  deviceOf,
  type FateClass,
  type Group,
  type Id,
  type Network,
} from "../network/index.ts";
import type { Proof, Question } from "../prove/index.ts";
import type { Pair, State } from "./states.ts";

/** What gets through. */
export type Reach = {
  /** What needs no packets before it. */
  readonly plain: Alternatives;
  /** What belongs to an exchange that other packets began. */
  readonly answers: Alternatives;
  /** Of what needs no packets before it, what is delivered to a device, by its id. */
  readonly delivered: ReadonlyMap<Id, Alternatives>;
  /** Parts that were looked at. */
  readonly looked: ReadonlySet<Id>;
  /** What it rests on. */
  readonly footprint: Footprint;
  /** Why nobody can tell; absent: all is known. */
  readonly undecided?: string;
};

/** Nothing at all: one of the ends does not exist. */
const NOTHING: Reach = {
  plain: [],
  answers: [],
  delivered: new Map(),
  looked: new Set(),
  footprint: new Footprint(),
};

/** Ends where packets begin: networks, and the internet. */
export function beginnersOf({ groups }: Network): readonly Group[] {
  return groups.filter(({ kind }) => kind === "network" || kind === "internet");
}

/** Ends where packets arrive: those, and the devices that are managed. */
export function targetsOf(network: Network): readonly Group[] {
  const managed = new Set(managedOf(network));
  return [...beginnersOf(network), ...network.groups.filter(({ id, kind }) => kind === "device" && managed.has(id))];
}

function managedOf({ devices, stacks }: Network): readonly Id[] {
  const withStack = new Set(stacks.map(({ device }) => device));
  return devices.flatMap(({ id, is }) => (is !== "host" && is !== "upstream" && withStack.has(id) ? [id] : []));
}

/** What gets from one end to another on one side. */
export function reachOn(side: "base" | "head", { from, to }: Pair, { evaluation }: State): Reach {
  const [begins, meant] = [from[side], to[side]];
  return begins && meant ? reachBetween(evaluation, begins, meant) : NOTHING;
}

const known = new WeakMap<Evaluation, Map<string, Reach>>();

/** What gets from one end to another; worked out once, since one state may be compared with many. */
function reachBetween(evaluation: Evaluation, from: Group, to: Group): Reach {
  const reaches = known.get(evaluation) ?? new Map<string, Reach>();
  known.set(evaluation, reaches);
  const key = JSON.stringify([from.id, to.id, from.entrances.map(({ at }) => at), to.segments.length]);
  const found = reaches.get(key) ?? reachFrom(evaluation, from, to);
  reaches.set(key, found);
  return found;
}

function reachFrom(evaluation: Evaluation, from: Group, to: Group): Reach {
  const [proofs, footprint] = evaluation.tracing(() => {
    noteEnds([from, to], evaluation);
    return proofsOf(evaluation, from, to, [[]]);
  });
  const looked = new Set(proofs.flatMap((proof) => proof.looked));
  const reached = proofs
    .flatMap((proof) => proof.reached)
    .filter((found) => countsAt(found, [from, to], evaluation.network));
  const undecided = proofs.map((proof) => tellUndecided(proof)).find((text) => text !== undefined);
  return {
    plain: reached.filter(isPlain).flatMap(({ packets }) => packets),
    answers: reached.flatMap((found) => [...(isPlain(found) ? [] : found.packets), ...(found.others ?? [])]),
    delivered: deliveredBy(reached),
    looked,
    footprint,
    ...(undecided === undefined ? {} : { undecided }),
  };
}

function deliveredBy(reached: readonly FateClass[]): ReadonlyMap<Id, Alternatives> {
  const delivered = new Map<Id, Alternatives>();
  for (const found of reached) {
    if (found.fate.end !== "delivered" || !isPlain(found)) continue;
    const device = deviceOf(found.fate.at);
    delivered.set(device, [...(delivered.get(device) ?? []), ...found.packets]);
  }
  return delivered;
}

/** What two ends mean, and who stands in them. */
function noteEnds(ends: readonly Group[], { footprint }: Evaluation): void {
  for (const { id, begins, parties } of ends) {
    footprint.groups.add(id);
    for (const { stack } of [...begins, ...parties]) footprint.stack(stack);
  }
}

/** Asks about some packets between two ends, in every world. */
export function proofsOf(evaluation: Evaluation, from: Group, to: Group, packets: AskedPackets): readonly Proof[] {
  const { network } = evaluation;
  const question: Question = {
    ...startOf({ group: from }, network),
    packets,
    target: targetOf({ group: to }, network),
  };
  const { worlds, limit } = evaluation.worlds(guestLinksOf(from, network));
  const proofs = worlds.map((world) => evaluation.prove(world, question));
  return limit === undefined ? proofs : proofs.map((proof) => ({ ...proof, undecided: { note: limit } }));
}

/** Needs no packets before it. */
export function isPlain({ before }: FateClass): boolean {
  return before.length === 0;
}

/**
 * What a managed device takes in a network counts at the device. What a device asks for on its own link, where nobody has that
 * address, counts where that link is a part of the other end, and not for an address alone.
 */
export function countsAt({ fate }: FateClass, [from, to]: readonly [Group, Group], network: Network): boolean {
  if (fate.end === "on-segment" && isOneDevice(from) && deviceOf(fate.at) === from.id)
    return to.upstreams.length > 0 || to.segments.some(({ at }) => at === fate.at);
  if (to.kind === "device" || fate.end !== "delivered") return true;
  return !managedOf(network).includes(deviceOf(fate.at));
}

function isOneDevice({ kind }: Group): boolean {
  return kind === "host" || kind === "device";
}

function tellUndecided({ undecided }: Proof): string | undefined {
  if (undecided === undefined) return undefined;
  return undecided.note ?? `more than ${undecided.limit} steps of proof`;
}
