/**
 * Packets that come to a stack more than once: those that are as they were belong to the connection that they began. And packets
 * whose connection would have the answers of another one, where no port can tell the two apart: of an earlier round of their own, or of an inside endpoint that has the outside one which they are to be shown from.
 */
import { intersectRanges, type Ranges, single, subtractRanges } from "../address/index.ts";
import { DESTINATION, DESTINATION_PORT, ICMP_TYPE, SOURCE, SOURCE_PORT } from "./fields.ts";
import {
  type Flow,
  isSameSight,
  narrowedIn,
  onlyValue,
  type Sight,
  setOf,
  shift,
  sightOf,
  type View,
  valuesOf,
  withSet,
} from "./flow.ts";
import { type Change, having, type Passage, withFlow } from "./passage.ts";
import { has, TUPLE } from "./tracking.ts";

/** Packets of the connection that they began themselves, and how it translates them: as their first round left. */
type Coming = { readonly flow: Flow; readonly source: readonly Change[]; readonly destination: readonly Change[] };

/** Packets that come to tracking, by whether they came there before just as they are now, or began there. */
type Again = {
  /** Those that did, and belong to the connection that they began. */
  readonly again: readonly Coming[];
  /** The others; where a port may have been drawn in between, all. */
  readonly others: readonly Flow[];
  /** The others are none unless a translator drew another identifier for a query: no example can say so. */
  readonly isOpen?: true;
};

/**
 * Of packets without a connection those that have one from an earlier round of their own. `wasHidden`: whether their source was
 * translated here, so that another port may have been drawn.
 */
export function comingRound({ visits, node, sent, uses }: Passage, flow: Flow, wasHidden: () => boolean): Again {
  const none: Again = { again: [], others: [flow] };
  if (visits === undefined || uses !== undefined) return none;
  // As the round left that is looked at: it came to the next stack like that.
  let left = visits.flow.view;
  for (let visit = visits.before; visit !== undefined; visit = visit.before) {
    const earlier = (field: number): Sight => sightOf(visit.flow.view, field);
    const found = visit.leg.node === node ? asBefore(flow, { earlier, left }, wasHidden) : undefined;
    if (found !== undefined) return found;
    left = visit.flow.view;
  }
  const begun = (field: number): Sight => ({ variable: field, plus: 0n });
  return (sent.at === node.stack.id ? asBefore(flow, { earlier: begun, left }, wasHidden) : undefined) ?? none;
}

function comingAs(flow: Flow, left: View): Coming {
  const owed = (fields: readonly number[]): readonly Change[] =>
    fields
      .map((field): Change => ({ field, from: sightOf(left, field) }))
      .filter(({ field, from }) => !isSameSight(sightOf(flow.view, field), from));
  return { flow, source: owed([SOURCE, SOURCE_PORT]), destination: owed([DESTINATION, DESTINATION_PORT]) };
}

/** An earlier round: as it came, and as it left. */
type Before = { readonly earlier: (field: number) => Sight; readonly left: View };

/** Packets by whether they have the tuple of an earlier time; undefined: none can. */
function asBefore(flow: Flow, { earlier, left }: Before, wasHidden: () => boolean): Again | undefined {
  const changed = TUPLE.filter((field) => !isSameSight(sightOf(flow.view, field), earlier(field)));
  let same = flow;
  let isSure = true;
  for (const field of changed) {
    const [now, was] = [sightOf(same.view, field), earlier(field)];
    const [seen, asked] = [valuesAt(same, now), valuesAt(same, was)];
    const both = intersectRanges(seen, asked);
    if (now.variable === was.variable || both.length === 0) return undefined;
    isSure &&= onlyValue(seen) !== undefined && onlyValue(asked) !== undefined;
    const narrow = [now, was].reduce<Flow | undefined>(
      (piece, sight) => piece && narrowedIn(piece, sight.variable, shift(both, -sight.plus)),
      same,
    );
    if (narrow === undefined) return undefined;
    same = { ...narrow, view: narrow.view.with(field, was) };
  }
  const isDrawn = hasPorts(flow) && wasHidden();
  const all = { again: [comingAs(same, left)], others: isSure && !isDrawn ? [] : [flow] };
  return isSure && isDrawn && has(flow, ICMP_TYPE) ? { ...all, isOpen: true } : all;
}

/** Packets that begin a connection, by whether another one would have its answers. */
export type Rounds = {
  /** Those of which it would. */
  readonly again: readonly Flow[];
  /** The others. */
  readonly others: readonly Passage[];
};

/**
 * What comes round and is, once translated, what its first round was, is told from that by another port: without ports it ends,
 * since answers to both would be the same, and so it does where an inside endpoint keeps its outside one. What came in alike in
 * both rounds is of one connection.
 */
export function roundsOf(passage: Passage): Rounds {
  const { connection, flow, node, visits, sent } = passage;
  const all: Rounds = { again: [], others: [passage] };
  if (connection?.kind !== "fresh") return all;
  const beside = besideInside(passage);
  if (beside !== undefined) return beside;
  const ends = hasPorts(flow) ? (node.stack.mapping === undefined ? [] : [DESTINATION]) : [SOURCE, DESTINATION];
  for (let visit = visits; visit !== undefined && ends.length > 0; visit = visit.before) {
    const { before, flow: came } = visit;
    if ((before?.leg.node.stack.id ?? sent.at) !== node.stack.id) continue;
    for (const end of ends) {
      const rounds = roundsBy(passage, end, { began: before?.flow.view, came, begins: connection.before });
      if (rounds !== undefined) return rounds;
    }
  }
  return all;
}

/** An earlier round: as it came in, absent where it began here, and as it left; and as this one came in. */
type Round = { readonly began: View | undefined; readonly came: Flow; readonly begins: View };

/** Rounds that differ in one end as they came in, and no longer as they leave; undefined: these do not. */
function roundsBy(passage: Passage, end: number, { began, came, begins }: Round): Rounds | undefined {
  const { flow } = passage;
  const [now, was] = [sightOf(begins, end), began === undefined ? { variable: end, plus: 0n } : sightOf(began, end)];
  if (was.variable === now.variable) return undefined;
  const value = onlyValue(valuesAt(flow, now));
  const seen = onlyValue(valuesOf(flow, end));
  if (value === undefined || seen === undefined || onlyValue(valuesOf(came, end)) !== seen) return undefined;
  // The other end as it leaves now, and as it left then.
  const other = end === SOURCE ? DESTINATION : SOURCE;
  const { alike, apart } = byMeeting(flow, sightOf(flow.view, other), sightOf(came.view, other));
  if (alike === undefined) return undefined;
  const { inside, outside } = parted(alike, was, single(value));
  return { again: outside, others: [...inside, ...apart].map((piece) => withFlow(passage, piece)) };
}

/** A flow by whether two sights may have one value: those that may, and the others; where both have several, all. */
function byMeeting(flow: Flow, one: Sight, other: Sight): { readonly alike?: Flow; readonly apart: readonly Flow[] } {
  if (isSameSight(one, other)) return { alike: flow, apart: [] };
  const [ours, theirs] = [valuesAt(flow, one), valuesAt(flow, other)];
  const both = intersectRanges(ours, theirs);
  if (both.length === 0) return { apart: [flow] };
  if (onlyValue(theirs) === undefined && onlyValue(ours) === undefined) return { alike: flow, apart: [flow] };
  const [fixed, open] = onlyValue(theirs) === undefined ? [ours, other] : [theirs, one];
  const { inside, outside } = parted(flow, open, fixed);
  const [alike] = inside;
  return alike === undefined ? { apart: outside } : { alike, apart: outside };
}

/**
 * What comes in by the mapping of an inside endpoint and is to be shown from that one's outside address: without a port that
 * address is its own, so it passes only where it is that endpoint. Undefined: it has ports, or is shown from elsewhere.
 */
export function besideInside(passage: Passage): Rounds | undefined {
  const { connection, flow } = passage;
  if (connection?.kind !== "fresh" || connection.owed === undefined || hasPorts(flow)) return undefined;
  const { before: begins } = connection;
  const [came, goes] = [sightOf(begins, SOURCE), sightOf(flow.view, DESTINATION)];
  const shown = onlyValue(valuesOf(flow, SOURCE));
  const isShown = sightOf(flow.view, SOURCE).variable !== came.variable && shown !== undefined;
  if (!isShown || shown !== onlyValue(valuesAt(flow, sightOf(begins, DESTINATION)))) return undefined;
  if (isSameSight(came, goes)) return undefined;
  const { inside } = parted(flow, came, valuesAt(flow, goes));
  return { again: apart(flow, came, goes), others: inside.map((piece) => asItself(withFlow(passage, piece), came)) };
}

function hasPorts(flow: Flow): boolean {
  return has(flow, SOURCE_PORT) || has(flow, ICMP_TYPE);
}

/** All values of one sight that differ from some of another, each in a piece of which every packet differs. */
function apart(flow: Flow, one: Sight, other: Sight): readonly Flow[] {
  const [[first] = []] = valuesAt(flow, other);
  if (first === undefined) return [];
  const here = parted(flow, other, single(first));
  return [
    ...here.inside.flatMap((piece) => parted(piece, one, single(first)).outside),
    ...here.outside.flatMap((piece) => parted(piece, one, single(first)).inside),
  ];
}

/** The destination is the source as it came in, and so is what the connection has of it. */
function asItself(passage: Passage, came: Sight): Passage {
  const { flow, uses } = passage;
  const goes = sightOf(flow.view, DESTINATION);
  const same = having(passage, { flow: { ...flow, view: flow.view.with(DESTINATION, came) } });
  if (uses === undefined) return same;
  const links = uses.links.map((link) => (isSameSight(link.ours, goes) ? { ...link, ours: came } : link));
  return { ...same, uses: { ...uses, links } };
}

function valuesAt(flow: Flow, { variable, plus }: Sight): Ranges {
  return shift(setOf(flow, variable), plus);
}

/** A flow by whether what is seen is among some values; each part in at most one piece. */
function parted(flow: Flow, { variable, plus }: Sight, values: Ranges): { inside: Flow[]; outside: Flow[] } {
  const set = setOf(flow, variable);
  const wanted = shift(values, -plus);
  const only = (part: Ranges): Flow[] => (part.length === 0 ? [] : [withSet(flow, variable, part)]);
  return { inside: only(intersectRanges(set, wanted)), outside: only(subtractRanges(set, wanted)) };
}
