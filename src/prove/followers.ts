/**
 * Packets that belong to a connection begun before: answers, later packets, and ICMP errors that quote one of either.
 *
 * An error quotes one packet, whoever looks at it. So the answer to that packet travels with the error, in fields of its
 * own behind those of the packet: every tracker on the way narrows them to what it knows.
 */
import type { Ranges } from "../address/index.ts";
import { alikeBy } from "./by-key.ts";
import {
  DESTINATION,
  DESTINATION_PORT,
  ICMP_CODE,
  ICMP_TYPE,
  NUMBER_FIELDS,
  PROTOCOL,
  SOURCE,
  SOURCE_PORT,
} from "./fields.ts";
import {
  type Flow,
  isSameSight,
  moved,
  narrowed,
  productsOf,
  rewritten,
  type Sight,
  shift,
  sightOf,
  stateOf,
  type Test,
  widened,
} from "./flow.ts";
import { gathered, wordOfSights } from "./gathered.ts";
import { mapped } from "./mappings.ts";
import type { Entry, Link, Passage } from "./passage.ts";
import {
  answering,
  changeOf,
  type Direction,
  ERRORS,
  familyOf,
  followed,
  following,
  has,
  isRewritten,
  replying,
  valuesAt,
} from "./tracking.ts";

/** The same for connections of several products; what belongs to them in the same way goes on together. */
export function followersOfAll(passage: Passage, entry: Entry, withOriginals: boolean): readonly Passage[] {
  const products = productsOf(entry.flow);
  if (products.length === 1) return followers(passage, entry, withOriginals);
  const loosely = { ...entry, flow: { ...entry.flow, parts: undefined } };
  if (followers(passage, loosely, withOriginals).length === 0) return [];
  const each = products.flatMap((flow) => followers(passage, { ...entry, flow }, withOriginals));
  // What is rewritten to values of the connection's is so by those of one product.
  return isRewritten(entry) ? each : together(each, entry);
}

/** Followers of connections that change nothing: which connection one is of is told by its tuple. */
function together(all: readonly Passage[], entry: Entry): readonly Passage[] {
  const wordOf = ({ uses, quotes, flow }: Passage): string => {
    const links = uses?.links.flatMap(({ theirs, ours }) => [theirs, ours]) ?? [];
    return [quotes, stateOf(flow), flow.sets.length, wordOfSights(links)].join("|");
  };
  return alikeBy(all, wordOf).flatMap((passages) => {
    const [first] = passages;
    if (first?.uses === undefined) return passages;
    const { uses } = first;
    return gathered(passages.map(({ flow }) => flow)).map((flow) => ({ ...first, flow, uses: { ...uses, entry } }));
  });
}

/** Packets of a passage that belong to a connection begun before, each part of it with what it owes. */
function followers(passage: Passage, entry: Entry, withOriginals: boolean): Passage[] {
  const found = [answering(passage, entry, replying(entry))];
  if (withOriginals) found.push(answering(passage, entry, following(entry)));
  // Errors begin no connections: where nobody asked about them, nothing comes of them.
  if (passage.counts) found.push(quoting(passage, entry, replying(entry)), quoting(passage, entry, following(entry)));
  return [...found.flatMap((each) => each ?? []), ...mapped(passage, entry)];
}

/**
 * Fields of the answer to the quoted packet, in the order in which they stand behind those of the error itself, whose own
 * destination is the answer's too.
 */
const QUOTED = [PROTOCOL, SOURCE, SOURCE_PORT, DESTINATION_PORT, ICMP_TYPE];

/** The field of a packet that one behind them is like. */
export function meaningOf(place: number): number {
  return QUOTED[place - NUMBER_FIELDS.length] ?? place;
}

/** Whom a quoted packet was sent to, as the first tracker was shown it: an answer comes from there. */
export const QUOTED_SOURCE: number = NUMBER_FIELDS.length + QUOTED.indexOf(SOURCE);

/** What may come to a target: packets that pass the tests of one list; of errors those that pass one of the others. */
export type Permitted = {
  /** Tests of the packets themselves. */
  readonly packets: readonly Test[];
  /** Tests of errors: about answers to such packets, and about the packets themselves. */
  readonly errors: readonly (readonly Test[])[];
};

/**
 * What may come to these addresses. An error belongs to the connection that it is about: its quoted fields are those of the
 * answer to the quoted packet, a packet of the connection's way there or, turned round, of its way back. Codes are not kept.
 */
export function permittedBy(packets: readonly Test[], target: Ranges): Permitted {
  const quoted = (field: number): number => NUMBER_FIELDS.length + QUOTED.indexOf(field);
  const about = (turned: boolean): readonly Test[] =>
    packets.flatMap((test): Test[] => {
      if (test.kind === "name") return [test];
      const field = turned && test.field === DESTINATION_PORT ? SOURCE_PORT : test.field;
      if (QUOTED.includes(field)) return [{ ...test, field: quoted(field) }];
      return field === ICMP_CODE ? [] : [test];
    });
  const toTarget: Test = { kind: "number", field: quoted(SOURCE), within: target };
  return { packets, errors: [about(false), [...about(true), toTarget]] };
}

/** Tells the type that an answer has from that of its query. */
const ANSWERS = 1000n;

/**
 * ICMP errors about a packet that went the other way; where the connection's other end was rewritten, they seem to come
 * from what it was rewritten from (kernel fact 5).
 */
function quoting(passage: Passage, entry: Entry, direction: Direction): Passage | undefined {
  if (!has(passage.flow, ICMP_TYPE)) return undefined;
  const theirs = sightOf(direction.fits, direction.turn(DESTINATION));
  const errors = narrowed(passage.flow, ICMP_TYPE, ERRORS[familyOf(passage.flow)]);
  const flow = errors && narrowed(errors, DESTINATION, valuesAt(entry, theirs));
  const quote = flow && quoteOf(flow, entry, direction);
  if (quote === undefined) return undefined;
  const links: Link[] = [...quote.links, { theirs, ours: sightOf(quote.flow.view, DESTINATION) }];
  const [seen, shown] = [
    sightOf(direction.fits, direction.turn(SOURCE)),
    sightOf(direction.becomes, direction.turn(SOURCE)),
  ];
  const isHidden = !isSameSight(seen, shown);
  const found = followed(passage, quote.flow, entry, links, "related", {
    kind: "followed",
    source: isHidden ? [{ field: SOURCE, from: shown }] : [],
    destination: changeOf(DESTINATION, direction),
  });
  return { ...found, quotes: true };
}

type Quote = { readonly flow: Flow; readonly links: readonly Link[] };

/** The quoted packet is one of the connection's, and translated with it (RFC 5508 section 4.2). */
function quoteOf(errors: Flow, entry: Entry, { fits, becomes, turn, isReply }: Direction): Quote | undefined {
  let flow = errors;
  const links: Link[] = [];
  for (const [index, field] of QUOTED.entries()) {
    const place = NUMBER_FIELDS.length + index;
    const [now, then] = [sightOf(fits, turn(field)), sightOf(becomes, turn(field))];
    const asked = valuesAt(entry, now);
    const plus = field === ICMP_TYPE && isReply && isThere(asked) ? ANSWERS : 0n;
    const values = shift(asked, plus);
    const fit = place < flow.view.length ? narrowed(flow, place, values) : widened(flow, values);
    if (fit === undefined) return undefined;
    links.push({ theirs: now, ours: less(sightOf(fit.view, place), plus) });
    flow =
      now.variable === then.variable
        ? moved(fit, place, then.plus - now.plus)
        : rewritten(fit, place, valuesAt(entry, then));
    if (now.variable !== then.variable) links.push({ theirs: then, ours: sightOf(flow.view, place) });
  }
  return { flow, links };
}

function isThere(values: Ranges): boolean {
  return (values[0]?.[0] ?? -1n) >= 0n;
}

function less({ variable, plus }: Sight, by: bigint): Sight {
  return { variable, plus: plus - by };
}
