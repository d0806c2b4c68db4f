/**
 * Connection tracking over sets. A first packet is new or invalid by what it is (kernel fact 16; ICMP queries, and TCP
 * by its flags). A connection begun before is a set of tuples in two directions; packets of the sender that fit one of
 * them, or ICMP errors that quote one, count as established or related, and have their addresses changed back.
 *
 * The sender may have begun any connection of the set, so a field that was rewritten to one address for many takes any
 * of the many values back: the one that the sender wanted.
 */
import {
  EMPTY_RANGES,
  intersectRanges,
  type Ranges,
  ranges,
  rangesOf,
  rangesOverlap,
  single,
} from "../address/index.ts";
import {
  DESTINATION,
  DESTINATION_PORT,
  FAMILY,
  ICMP_CODE,
  ICMP_TYPE,
  PROTOCOL,
  SOURCE,
  SOURCE_PORT,
  STATE,
  TCP_FLAGS,
  TRANSLATED,
} from "./fields.ts";
import {
  cut,
  type Flow,
  isSameSight,
  moved,
  narrowed,
  rewritten,
  type Sight,
  setOf,
  shift,
  sightOf,
  valuesOf,
  withName,
  withSet,
} from "./flow.ts";
import {
  type Change,
  type Connection,
  type Entry,
  having,
  type Link,
  type Passage,
  type Use,
  withFlow,
} from "./passage.ts";

// -- first packets -------------------------------------------------------------------------------------------------

const RST = 0x04n;
const SYN = 0x02n;
const ACK = 0x10n;
const FIN = 0x01n;

/** Numbers of flag bytes that pass a test. */
function flagsWhere(test: (flags: bigint) => boolean): Ranges {
  const found: (readonly [bigint, bigint])[] = [];
  for (let flags = 0n; flags < 256n; flags++) if (test(flags)) found.push([flags, flags]);
  return ranges(...found);
}

const SYN_FLAGS: Ranges = flagsWhere((flags) => (flags & (SYN | ACK | RST)) === SYN);
const MID_STREAM_FLAGS: Ranges = flagsWhere((flags) => (flags & (SYN | ACK | RST | FIN)) === ACK);
const OPENING_FLAGS: Ranges = ranges(...SYN_FLAGS, ...MID_STREAM_FLAGS);

/** ICMP queries and their answers: types of each family. */
const QUERIES: { readonly 4: readonly Pair[]; readonly 6: readonly Pair[] } = {
  4: [
    [8n, 0n],
    [13n, 14n],
    [15n, 16n],
    [17n, 18n],
  ],
  6: [
    [128n, 129n],
    [139n, 140n],
  ],
};
type Pair = readonly [asks: bigint, answers: bigint];

/** ICMP errors: types of each family (RFC 792; RFC 4443 section 2.1: all below 128, from memory). */
export const ERRORS: { readonly 4: Ranges; readonly 6: Ranges } = {
  4: ranges([3n, 5n], [11n, 12n]),
  6: ranges([1n, 127n]),
};

/** The family of a flow. */
export function familyOf(flow: Flow): 4 | 6 {
  return setOf(flow, FAMILY)[0]?.[0] === 4n ? 4 : 6;
}

/** Packets without a connection, by what tracking makes of them. */
export function freshStates(
  flow: Flow,
  midStream: "new" | "invalid",
): { readonly fresh: Flow[]; readonly invalid: Flow[] } {
  const field = openingField(flow);
  if (field === undefined) return { fresh: [flow], invalid: [] };
  const within = field === TCP_FLAGS ? (midStream === "new" ? OPENING_FLAGS : SYN_FLAGS) : asking(familyOf(flow));
  const { hit, rest } = cut(flow, [{ kind: "number", field, within }]);
  return { fresh: hit === undefined ? [] : [hit], invalid: [...rest] };
}

/** The field that says whether a packet can begin a connection; undefined: every packet of its protocol can. */
function openingField(flow: Flow): number | undefined {
  for (const field of [TCP_FLAGS, ICMP_TYPE]) if (has(flow, field)) return field;
  return undefined;
}

/** Whether these packets have a field. */
export function has(flow: Flow, field: number): boolean {
  return (valuesOf(flow, field)[0]?.[0] ?? -1n) >= 0n;
}

function asking(family: 4 | 6): Ranges {
  return rangesOf(QUERIES[family].map(([asks]) => asks));
}

// -- connections ---------------------------------------------------------------------------------------------------

/** How the fields of a packet stand to those of the connection's first packet. */
export type Direction = {
  /** The connection's view that the packet has to fit. */
  readonly fits: Entry["before"];
  /** The view that it is changed to. */
  readonly becomes: Entry["before"];
  /** The connection's field for a field of the packet. */
  readonly turn: (field: number) => number;
  /** It answers the first packet. */
  readonly isReply: boolean;
};

const TURNED: ReadonlyMap<number, number> = new Map([
  [SOURCE, DESTINATION],
  [DESTINATION, SOURCE],
  [SOURCE_PORT, DESTINATION_PORT],
  [DESTINATION_PORT, SOURCE_PORT],
]);

/** Of packets that answer the first one. */
export function replying({ before, after }: Entry): Direction {
  return { fits: after, becomes: before, turn: (field) => TURNED.get(field) ?? field, isReply: true };
}

/** Of packets that follow the first one. */
export function following({ before, after }: Entry): Direction {
  return { fits: before, becomes: after, turn: (field) => field, isReply: false };
}

/** A value of one of the connection's views. */
export function valuesAt(entry: Entry, sight: Sight): Ranges {
  return shift(setOf(entry.flow, sight.variable), sight.plus);
}

/** Whether some of these packets are ICMP errors, which quote another packet. */
export function canQuote(flow: Flow): boolean {
  return has(flow, ICMP_TYPE) && narrowed(flow, ICMP_TYPE, ERRORS[familyOf(flow)]) !== undefined;
}

/** Packets whose own tuple is one of the connection's. */
export function answering(passage: Passage, entry: Entry, direction: Direction): Passage | undefined {
  const found = fitting(passage.flow, [PROTOCOL, SOURCE, DESTINATION, SOURCE_PORT, DESTINATION_PORT], entry, direction);
  if (found === undefined) return undefined;
  const links = [...found.links];
  const typed = fitTypes(found.flow, entry, direction, links);
  if (typed === undefined) return undefined;
  const changes = (fields: readonly number[]): Change[] => fields.flatMap((field) => changeOf(field, direction));
  return followed(passage, typed, entry, links, "established", {
    kind: "followed",
    source: changes([SOURCE, SOURCE_PORT]),
    destination: changes([DESTINATION, DESTINATION_PORT]),
  });
}

type Fitting = { readonly flow: Flow; readonly links: readonly Link[] };

/** Packets whose fields have values of the connection's. */
export function fitting(
  packets: Flow,
  fields: readonly number[],
  entry: Entry,
  { fits, turn }: Direction,
): Fitting | undefined {
  // Hot: most packets belong to most connections not, and nothing is made to see that.
  for (const field of fields) {
    const { variable, plus } = sightOf(packets.view, field);
    const theirs = valuesAt(entry, sightOf(fits, turn(field)));
    if (!rangesOverlap(shift(theirs, -plus), setOf(packets, variable))) return undefined;
  }
  let flow = packets;
  const links: Link[] = [];
  for (const field of fields) {
    const theirs = sightOf(fits, turn(field));
    const fit = narrowed(flow, field, valuesAt(entry, theirs));
    if (fit === undefined) return undefined;
    flow = fit;
    links.push({ theirs, ours: sightOf(flow.view, field) });
  }
  return { flow, links };
}

/** ICMP queries belong to a connection by their type too. */
function fitTypes(flow: Flow, entry: Entry, { fits, isReply }: Direction, links: Link[]): Flow | undefined {
  if (!has(flow, ICMP_TYPE)) return flow;
  const theirs = sightOf(fits, ICMP_TYPE);
  const asked = valuesAt(entry, theirs);
  const types = isReply ? answersTo(asked, familyOf(flow)) : asked;
  const typed = narrowed(flow, ICMP_TYPE, types);
  const code = sightOf(fits, ICMP_CODE);
  const coded = typed && narrowed(typed, ICMP_CODE, valuesAt(entry, code));
  if (coded !== undefined) links.push({ theirs: code, ours: sightOf(coded.view, ICMP_CODE) });
  return coded;
}

function answersTo(asked: Ranges, family: 4 | 6): Ranges {
  return ranges(
    ...QUERIES[family].flatMap(([asks, answers]) =>
      intersectRanges(asked, single(asks)).length > 0 ? [[answers, answers] as const] : [],
    ),
  );
}

/** What a field becomes: nothing new, or the value that the connection's other view has. */
export function changeOf(field: number, { fits, becomes, turn }: Direction): Change[] {
  const [now, then] = [sightOf(fits, turn(field)), sightOf(becomes, turn(field))];
  if (now.variable !== then.variable) return [{ field, from: then }];
  return now.plus === then.plus ? [] : [{ field, plus: then.plus - now.plus, from: then }];
}

/** Packets that pass as part of a connection. */
export function followed(
  passage: Passage,
  flow: Flow,
  entry: Entry,
  links: readonly Link[],
  state: string,
  connection: Connection,
  translated: string = entry.translated,
): Passage {
  const { uses } = passage;
  const rests = 1 + (entry.uses?.rests ?? 0) + (uses?.rests ?? 0);
  const use: Use = { entry, links, rests, ...(uses === undefined ? {} : { next: uses }) };
  const named = withName(withName(flow, STATE, [state]), TRANSLATED, [translated]);
  const doubt = passage.doubt ?? entry.doubt;
  return having(passage, { flow: named, connection, uses: use, next: passage.next + 1, doubt });
}

/** Makes the changes that a connection owes at one end. */
export function changed(passage: Passage, end: "source" | "destination"): Passage {
  const { connection } = passage;
  if (connection?.kind !== "followed") return passage;
  const owed = connection[end];
  if (owed.length === 0) return passage;
  const done = owed.reduce(changeOne, passage);
  return having(done, { connection: { ...connection, [end]: [] } });
}

/**
 * Packets of a connection whose destination, once changed, matters; the others are of no interest. What comes in by a
 * mapping begins a connection, so that it may matter by its source too.
 */
export function leadingTo(passage: Passage, { destinations, sources }: Mattering): readonly Passage[] {
  if (passage.connection?.kind !== "fresh") return ledTo(passage, destinations);
  const { hit, rest } = cut(passage.flow, [{ kind: "number", field: SOURCE, within: sources }]);
  const others = rest.flatMap((flow): readonly Passage[] => ledTo(withFlow(passage, flow), destinations));
  return hit === undefined ? others : [withFlow(passage, hit), ...others];
}

/** Ends of packets that matter to a question. */
export type Mattering = {
  /** Destinations of those that can come to the target. */
  readonly destinations: Ranges;
  /** Sources of those that can begin a connection which brings something there. */
  readonly sources: Ranges;
};

function ledTo(passage: Passage, destinations: Ranges): readonly Passage[] {
  const { connection, uses, flow } = passage;
  if (connection === undefined || uses === undefined) return [passage];
  const owed = connection.kind === "followed" ? connection.destination : (connection.owed ?? []);
  const change = owed.find(({ field }) => field === DESTINATION);
  if (change === undefined || change.plus !== undefined) {
    const wanted = narrowed(flow, DESTINATION, shift(destinations, -(change?.plus ?? 0n)));
    return wanted === undefined ? [] : [withFlow(passage, wanted)];
  }
  const { entry } = uses;
  const wanted = narrowedAt(entry, change.from, destinations);
  return wanted === undefined ? [] : [having(passage, { uses: { ...uses, entry: wanted } })];
}

/** A connection with fewer values of one variable. */
function narrowedAt(entry: Entry, { variable, plus }: Sight, values: Ranges): Entry | undefined {
  const set = intersectRanges(setOf(entry.flow, variable), shift(values, -plus));
  return set.length === 0 ? undefined : { ...entry, flow: withSet(entry.flow, variable, set) };
}

/** Makes one change that the connection of packets owes. */
export function changeOne(passage: Passage, { field, plus, from }: Change): Passage {
  const { uses, flow } = passage;
  if (plus !== undefined) return having(passage, { flow: moved(flow, field, plus) });
  if (uses === undefined) return having(passage, { flow: { ...flow, view: flow.view.with(field, from) } });
  const known = linkedTo(from, uses);
  if (known !== undefined) return having(passage, { flow: { ...flow, view: flow.view.with(field, known) } });
  const values = valuesAt(uses.entry, from);
  if (values.length === 0) throw new Error(`a connection with no value for field ${field}`);
  const next = rewritten(flow, field, values);
  const link: Link = { theirs: from, ours: sightOf(next.view, field) };
  return having(passage, { flow: next, uses: { ...uses, links: [...uses.links, link] } });
}

/** What of the packets has the value that a connection has there, whichever of its set it is; undefined: nothing has. */
function linkedTo({ variable, plus }: Sight, { links }: Use): Sight | undefined {
  const link = links.find(({ theirs }) => theirs.variable === variable);
  return link && { variable: link.ours.variable, plus: link.ours.plus + plus - link.theirs.plus };
}

/** The tuples of a connection as its first packets came: what tells whether another one adds anything. */
export function tuplesOf({ flow, before, after }: Entry): readonly Ranges[] {
  const fields = [PROTOCOL, SOURCE, DESTINATION, SOURCE_PORT, DESTINATION_PORT, ICMP_TYPE, ICMP_CODE];
  return [before, after].flatMap((view) =>
    fields.map((field) => {
      const { variable, plus } = sightOf(view, field);
      return shift(flow.sets[variable] ?? EMPTY_RANGES, plus);
    }),
  );
}

/** Whether a connection changes the fields of its packets. */
export function isRewritten({ before, after, translated }: Entry): boolean {
  return translated !== "" || TUPLE.some((field) => !isSameSight(sightOf(before, field), sightOf(after, field)));
}

/** What tells connections apart; the type of ICMP queries is never rewritten. */
export const TUPLE: readonly number[] = [SOURCE, DESTINATION, SOURCE_PORT, DESTINATION_PORT];

/** How a connection changes the fields of its packets. */
export function shapeOf(entry: Entry): string {
  return `${entry.translated} ${changesOf(entry, TUPLE)}`;
}

/** What a connection does to some fields of its packets, in a word. */
export function changesOf({ before, after }: Entry, fields: readonly number[]): string {
  const changes = fields.map((field) => {
    const [from, to] = [sightOf(before, field), sightOf(after, field)];
    return from.variable === to.variable ? `${to.plus - from.plus}` : "any";
  });
  return changes.join(" ");
}
