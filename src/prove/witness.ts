/**
 * One packet of a set, the one that a person would try: the smallest (`order.ts`). Where the packet rests on connections begun
 * before, the packets that begin them come with it, their fields bound to its own.
 */
import { EMPTY_RANGES, type Ranges, rangesContain, single, subtractRanges, unionRanges } from "../address/index.ts";
import type { FateClass, FateExample, Witness } from "../network/index.ts";
import type { Node } from "./atlas.ts";
import {
  DESTINATION,
  DESTINATION_HARDWARE,
  DESTINATION_PORT,
  LENGTH,
  NUMBER_FIELDS,
  SOURCE,
  SOURCE_HARDWARE,
  SOURCE_PORT,
  universeOf,
  VLAN,
} from "./fields.ts";
import type { Ended } from "./findings.ts";
import { type Flow, hasPacket, productsOf, setOf, withSet } from "./flow.ts";
import { meaningOf, QUOTED_SOURCE } from "./followers.ts";
import { type Choosing, chosen, type Place } from "./order.ts";
import type { Entry, Sent, Use } from "./passage.ts";
import { familyOf } from "./tracking.ts";
import { isDrawn, pathOf, withValues } from "./trail.ts";

type Shown = Pick<Ended, "flow" | "sent"> & {
  /** Connections they rest on. */
  readonly uses?: Use;
  /** Options that had to be taken on the way. */
  readonly picks: FateClass["picks"];
  /** It only begins a connection for another packet. */
  readonly isEarlier?: boolean;
};

/** Packets that an example may rest on, each counted for every other one that rests on it. */
const MOST_RESTED_ON = 1000;

/**
 * Packets of a set, the smallest first; none where the earlier packets would tell a tracker of it that is to know nothing, or
 * where it rests on too many. The others are for where earlier packets do more than begin their connections: ports of their
 * own keep connections apart, and another order lets another one be first.
 */
export function examplesOf(
  ended: Ended,
  choosing: Choosing,
  entriesAt: (node: Node) => readonly Entry[],
): readonly FateExample[] {
  const isPlain = ended.uses === undefined && !ended.trail.picks.some(isDrawn);
  const ways = isPlain ? [false] : [false, true];
  return ways.flatMap((isApart) => {
    const chosen = choose(shownOf(ended), [], bounded(choosing, isApart));
    if (chosen === undefined || tellsStrangers(ended, chosen, entriesAt)) return [];
    const example = withPath(chosen, ended);
    return example.before.length > 1 ? [example, { ...example, before: example.before.toReversed() }] : [example];
  });
}

function tellsStrangers(ended: Ended, { earlier }: Chosen, entriesAt: (node: Node) => readonly Entry[]): boolean {
  for (let stranger = ended.strangers; stranger !== undefined; stranger = stranger.before) {
    const entries = entriesAt(stranger.node);
    if (earlier.some((packet) => entries.some((entry) => begins(entry, packet)))) return true;
  }
  return false;
}

/** A packet of a set, whoever it is told to; undefined where it rests on too many. */
export function anyExampleOf(ended: Ended, choosing: Choosing): FateExample | undefined {
  const chosen = choose(shownOf(ended), [], bounded(choosing));
  return chosen && withPath(chosen, ended);
}

function withPath({ example, values }: Chosen, { trail }: Ended): FateExample {
  return { ...example, path: pathOf(trail, values) };
}

function shownOf({ flow, sent, uses, trail }: Ended): Shown {
  return { flow, sent, picks: trail.picks, ...(uses === undefined ? {} : { uses }) };
}

/** Whether a packet, as it is sent, begins a connection. */
function begins({ flow, sent }: Entry, packet: Sending): boolean {
  if (sent.at !== packet.sent.at) return false;
  return hasPacket(flow, packet.values);
}

/** An earlier packet by its values as it is sent. */
type Sending = { readonly sent: Sent; readonly values: readonly bigint[] };

type Earlier = Example["before"][number];

/** A packet with those that must be sent before it, and the options that all of them need. */
type Example = Omit<FateExample, "path">;

type Chosen = {
  readonly example: Example;
  readonly taken: readonly Taken[];
  readonly values: readonly bigint[];
  readonly earlier: readonly Sending[];
};

/** Choosing that ends. */
type Bounded = Choosing & {
  /** How many more packets may be chosen. */
  readonly left: { packets: number };
  /** What was chosen, where each packet is to have ports of its own and go to nobody whom another one comes from; absent: the usual. */
  readonly apart?: { ports: Ranges; sources: Ranges };
};

function bounded(choosing: Choosing, isApart = false): Bounded {
  const left = { packets: MOST_RESTED_ON };
  return isApart ? { ...choosing, left, apart: { ports: EMPTY_RANGES, sources: EMPTY_RANGES } } : { ...choosing, left };
}

/** `like`: values to take where they may be taken, variable by variable. */
function choose(ended: Shown, like: readonly bigint[], choosing: Bounded): Chosen | undefined {
  if (choosing.left.packets-- === 0) return undefined;
  const { flow, sent } = ended;
  const values = valuesOfVariables(ended, like, choosing);
  const before: Earlier[] = [];
  const earlier: Sending[] = [];
  let taken: readonly Taken[] | undefined = takenBy(ended.picks, values);
  for (const greeting of sent.met ?? []) {
    const greeted = choose({ ...greeting, isEarlier: true }, [], choosing);
    taken = greeted && together(taken, greeted.taken);
    if (greeted === undefined || taken === undefined) return undefined;
    const { sentAt, witness } = greeted.example;
    if (!before.some((known) => isSame(known, greeted.example))) before.push({ sentAt, witness });
  }
  let last: readonly bigint[] = [];
  for (const use of usesOf(ended.uses)) {
    // Several stacks that know a connection mostly know it by the same packet.
    const begun = choose({ ...use.entry, flow: bound(use, values), isEarlier: true }, last, choosing);
    taken = begun && together(taken, begun.taken);
    if (begun === undefined || taken === undefined) return undefined;
    const { sentAt, witness } = begun.example;
    for (const each of [...begun.example.before, { sentAt, witness }])
      if (!before.some((known) => isSame(known, each))) before.push(each);
    last = begun.values.slice(0, NUMBER_FIELDS.length);
    earlier.push(...begun.earlier, { sent: use.entry.sent, values: last });
  }
  const picks = taken.map(({ choice, option }) => ({ choice, option }));
  return {
    example: { witness: witnessOf(values, flow, sent), sentAt: sent.at, before, picks },
    taken,
    values,
    earlier,
  };
}

/** An option that an example needs. */
type Taken = FateClass["picks"][number] & {
  /** A port drawn for one connection: others may have drawn others. */
  readonly isDrawn: boolean;
};

function takenBy(picks: FateClass["picks"], values: readonly bigint[]): readonly Taken[] {
  return picks.map((pick) => {
    const [known = pick] = withValues([pick], values);
    return { ...known, isDrawn: isDrawn(pick) };
  });
}

/** The options that both need; undefined: they exclude one another. */
function together(own: readonly Taken[], others: readonly Taken[]): readonly Taken[] | undefined {
  const all = [...own];
  for (const each of others) {
    const known = all.find(({ choice }) => choice === each.choice);
    if (known === undefined) all.push(each);
    else if (known.option !== each.option && !each.isDrawn) return undefined;
  }
  return all;
}

function isSame(a: Earlier, b: Earlier): boolean {
  const values = new Map(b.witness.numbers);
  return (
    a.sentAt === b.sentAt &&
    a.witness.numbers.length === b.witness.numbers.length &&
    a.witness.numbers.every(([field, value]) => values.get(field) === value)
  );
}

/** The connections in the order in which the packet met them. */
function usesOf(last: Use | undefined): readonly Use[] {
  const uses: Use[] = [];
  for (let use = last; use !== undefined; use = use.next) uses.push(use);
  return uses.reverse();
}

/** Packets of a connection that fit the packet chosen. */
function bound({ entry, links }: Use, values: readonly bigint[]): Entry["flow"] {
  let { flow } = entry;
  for (const { theirs, ours } of links) {
    const value = (values[ours.variable] ?? 0n) + ours.plus - theirs.plus;
    if (rangesContain(setOf(flow, theirs.variable), value)) flow = withSet(flow, theirs.variable, single(value));
  }
  // The values of a tuple are those of one product.
  return productsOf(flow)[0] ?? flow;
}

// -- the packet -----------------------------------------------------------------------------------------------------

/** A value for each variable, those as sent first. */
function valuesOfVariables(
  { flow, sent, uses, isEarlier = false }: Shown,
  like: readonly bigint[],
  choosing: Bounded,
): readonly bigint[] {
  const isAnswer = uses !== undefined;
  return flow.sets.map((set, variable) => {
    const wanted = like[variable];
    if (wanted !== undefined && rangesContain(set, wanted)) return wanted;
    const field =
      variable < NUMBER_FIELDS.length
        ? variable
        : meaningOf(flow.view.findIndex((sight) => sight.variable === variable));
    const place = { field, family: familyOf(flow), isAnswer, isEarlier, sent };
    return choosing.apart === undefined ? chosen(set, place, choosing) : chosenApart(set, place, choosing);
  });
}

const PORTS: readonly number[] = [SOURCE_PORT, DESTINATION_PORT];

/** One that tells the packet from the others of the example, if there is one. */
function chosenApart(set: Ranges, place: Place, { apart, ...choosing }: Bounded): bigint {
  if (apart === undefined) return chosen(set, place, choosing);
  const { field, isEarlier } = place;
  const without = (unwanted: Ranges): bigint => {
    const free = subtractRanges(set, unwanted);
    return chosen(free.length > 0 ? free : set, place, choosing);
  };
  const isPort = PORTS.includes(field);
  // What is sent to where another one comes from has that one for its answer.
  const value = isPort
    ? without(apart.ports)
    : without(field === DESTINATION && isEarlier ? apart.sources : EMPTY_RANGES);
  if (isPort && value >= 0n) apart.ports = unionRanges(apart.ports, single(value));
  if (field === SOURCE) apart.sources = unionRanges(apart.sources, single(value));
  return value;
}

function witnessOf(values: readonly bigint[], flow: Flow, sent: Sent): Witness {
  const universe = universeOf(flow.sets);
  const numbers = NUMBER_FIELDS.flatMap((field, index): [typeof field, bigint][] => {
    const value = values[index] ?? -1n;
    const isOpen = flow.sets[index] === universe[index];
    if (value < 0n || (index === LENGTH && isOpen)) return [];
    const told = isOpen ? framed(index, value, sent) : value;
    return told === undefined ? [] : [[field, told]];
  });
  const names: Witness["names"] = sent.egress === undefined ? [] : [["egress", sent.egress]];
  const about = values[QUOTED_SOURCE];
  return {
    numbers,
    names,
    ...(sent.tags.length > 1 ? { tags: sent.tags } : {}),
    ...(sent.session === undefined ? {} : { session: sent.session }),
    ...(flow.view.length > QUOTED_SOURCE && about !== undefined ? { about } : {}),
  };
}

/** Fields of the frame follow from how the packet is sent. */
function framed(index: number, value: bigint, sent: Sent): bigint | undefined {
  const [outer] = sent.tags;
  if (index === VLAN) return outer === undefined ? 0n : 4096n + BigInt(outer);
  if (index === DESTINATION_HARDWARE) return sent.towards;
  // A made-up one: that of a station which sits elsewhere would draw its frames to where this one is sent.
  if (index === SOURCE_HARDWARE) return undefined;
  return value;
}
