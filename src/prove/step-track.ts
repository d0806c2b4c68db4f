/**
 * Steps of connections: `track`, `translate`, `confirm`.
 */
import { intersectRanges, single, subtractRanges } from "../address/index.ts";
import type { Pick } from "../network/index.ts";
import { choiceId } from "../settle/index.ts";
import { need } from "./atlas.ts";
import { DESTINATION, ICMP_TYPE, SOURCE, SOURCE_PORT, STATE, TRANSLATED } from "./fields.ts";
import {
  type Flow,
  onlyValue,
  type Sight,
  setOf,
  shift,
  sightOf,
  stateOf,
  type View,
  valuesOf,
  withName,
  withSet,
} from "./flow.ts";
import { type Change, type Connection, type Entry, onward, type Passage, type Stranger } from "./passage.ts";
import { mayTouch } from "./rules.ts";
import { drop, type StepOf } from "./step-checks.ts";
import { reroute } from "./step-route.ts";
import { byMapping, changed, freshStates, has } from "./tracking.ts";
import { drawnBy, stepped, type Trail } from "./trail.ts";
import { drawnPort, seenFromOutside, translated } from "./translation.ts";
import { optional, type Walk } from "./walk.ts";

/** Finds or begins the connections of packets, and so their states. */
export function takeTrack(walk: Walk, passage: Passage, step: StepOf<"track">): readonly Passage[] {
  // What turned round has its state already.
  if (stateOf(passage.flow) !== "") return [onward(passage)];
  const { decided, left } = walk.ground.alternativesOf(step, step.except).split(passage.flow, walk.ground.meter);
  const tell = (flow: Flow): Passage => {
    const trail = stepped(passage.trail, passage.node.stack.id, "track", step.origin, stateOf(flow));
    if (stateOf(flow) === "untracked") return onward({ ...passage, trail }, flow);
    const strangers: Stranger = { node: passage.node, ...optional({ before: passage.strangers }) };
    return onward({ ...passage, trail, strangers }, flow);
  };
  return [
    ...decided.map(({ flow }) => tell(withName(flow, STATE, ["untracked"]))),
    ...left.flatMap((flow) => trackPiece(walk, { ...passage, flow }, step, tell)),
  ];
}

function trackPiece(
  walk: Walk,
  passage: Passage,
  step: StepOf<"track">,
  tell: (flow: Flow) => Passage,
): readonly Passage[] {
  const { fresh, invalid } = freshStates(passage.flow, step.midStream);
  const begun = fresh.map((flow): Passage => {
    const connection: Connection = { kind: "fresh", before: flow.view, asked: [] };
    return { ...tell(withName(flow, STATE, ["new"])), connection };
  });
  return [
    ...begun,
    ...invalid.map((flow) => tell(withName(flow, STATE, ["invalid"]))),
    ...belonging(walk, passage, step),
  ];
}

/** Whoever sends frames of its own choice can make them belong to connections it began. */
function belonging(walk: Walk, passage: Passage, step: StepOf<"track">): readonly Passage[] {
  const isHonest = walk.ground.atlas.nodes.has(passage.sent.at);
  if (isHonest || passage.ingress === undefined) return [];
  const trail = stepped(passage.trail, passage.node.stack.id, "track", step.origin, "of a connection begun before");
  return walk.await({ ...passage, trail });
}

/** The first packet asks the table, later ones follow the connection. */
export function takeTranslate(walk: Walk, passage: Passage, step: StepOf<"translate">): readonly Passage[] {
  const { connection, node } = passage;
  if (connection === undefined) return [onward(passage)];
  if (connection.kind === "followed") {
    const done = changed(passage, step.end);
    if (done.flow === passage.flow) return [onward(passage)];
    const trail = stepped(passage.trail, node.stack.id, "translate", step.origin, "as the connection says");
    return [onward({ ...done, trail })];
  }
  if (connection.asked.includes(step.end)) return [onward(passage)];
  const asked = { ...passage, connection: { ...connection, asked: [...connection.asked, step.end] } };
  return askTable(walk, asked, step);
}

function askTable(walk: Walk, passage: Passage, step: StepOf<"translate">): readonly Passage[] {
  const { table, rules } = need(walk.ground.atlas.translations, step.table, "translation");
  walk.looked.add(table.id);
  walk.ground.notes.filter(table.id, (when) => mayTouch(passage.flow, when));
  const { decided, left } = rules.split(passage.flow, walk.ground.meter);
  const lines = [
    ...decided.map(({ rule, match, flow }) => ({
      flow,
      action: rule.action,
      origin: rule.origin,
      detail: rule.id,
      match,
    })),
    ...left.map((flow) => ({ flow, ...table.otherwise, detail: "", match: [] })),
  ];
  const owed = step.end === "destination" ? owedBy(passage) : undefined;
  return lines.flatMap(({ flow, action, origin, detail, match }): readonly Passage[] => {
    if (owed !== undefined) {
      // A rule goes before a mapping, and what it translates needs none.
      if (action.do !== "keep") return [];
      const trail = stepped(passage.trail, passage.node.stack.id, "translate", origin, "by a mapping");
      return elsewhere(walk, { ...byMapping({ ...passage, flow }, owed), trail }, step);
    }
    if (action.do === "keep") return kept(walk, passage, flow, step).map((piece) => onward(passage, piece));
    const around = {
      end: step.end,
      match,
      facing: step.end === "source" ? passage.egress : passage.ingress,
      turning: step.end === "source" && passage.turns === true ? passage.node.legs : undefined,
      via: passage.via,
      portsMatter: walk.ground.looks.has("sourcePort"),
      endsMatter: walk.ground.looks.has("translated") || passage.node.stack.mapping?.hairpin === true,
    };
    const { id } = passage.node.stack;
    const translatedBy = (pick?: Pick): Trail => stepped(passage.trail, id, "translate", origin, detail, pick);
    const { pieces, lost } = translated(flow, action, around);
    for (const piece of lost) drop(walk, { ...passage, trail: translatedBy() }, piece.flow, piece.reason, origin);
    return pieces.flatMap((piece) => {
      const { again, others }: Rounds =
        step.end === "source" ? roundsOf({ ...passage, flow: piece }) : { others: piece };
      drop(walk, { ...passage, trail: translatedBy() }, again, "no-free-port", origin);
      if (others === undefined) return [];
      const drawn = around.portsMatter && step.end === "source" ? drawnPort(flow, piece) : undefined;
      const pick = drawn === undefined ? undefined : drawnBy(choiceId("source-port", id), drawn);
      return elsewhere(walk, { ...passage, trail: translatedBy(pick), flow: others }, step);
    });
  });
}

function owedBy({ connection }: Passage): readonly Change[] | undefined {
  return connection?.kind === "fresh" ? connection.owed : undefined;
}

/** What no rule translates keeps its source, unless it was turned back inside. */
function kept(walk: Walk, passage: Passage, flow: Flow, { end }: StepOf<"translate">): readonly Flow[] {
  const { connection, ingress, egress, node } = passage;
  const isTurned = end === "source" && node.stack.mapping?.hairpin === true && egress !== undefined;
  if (!isTurned || ingress === undefined || connection?.kind !== "fresh") return [flow];
  const { before } = connection;
  return seenFromOutside(flow, { before, near: ingress.own, portsMatter: walk.ground.looks.has("sourcePort") });
}

/** What the stack itself sends goes another way once its destination is another one. */
function elsewhere(walk: Walk, passage: Passage, step: StepOf<"translate">): readonly Passage[] {
  const isSent = passage.ingress === undefined && (passage.egress !== undefined || passage.turns === true);
  if (step.end === "source" || !isSent) return [onward(passage)];
  return reroute(walk, passage, step.origin);
}

/** A connection lives on: the packets that begin it got here. */
export function takeConfirm(walk: Walk, passage: Passage, { origin }: StepOf<"confirm">): readonly Passage[] {
  const { connection, node, sent, uses, doubt } = passage;
  if (connection?.kind !== "fresh" || stateOf(passage.flow) !== "new") return [onward(passage)];
  const { again, others: flow } = roundsOf(passage);
  drop(walk, passage, again, "no-free-port", origin);
  if (flow === undefined) return [];
  const [rewritten] = flow.names[TRANSLATED] ?? [];
  const entry: Entry = {
    node,
    flow,
    before: connection.before,
    after: flow.view,
    translated: rewritten ?? "",
    sent,
    picks: passage.trail.picks,
    ...optional({ uses, doubt }),
  };
  walk.keep(entry);
  return [onward(passage, flow)];
}

/** Packets that begin a connection, by whether it would have the answers of an earlier round of theirs. */
type Rounds = { readonly again?: Flow; readonly others?: Flow };

/**
 * What comes round and is, once translated, what its first round was, is told from that by another port: without ports it ends,
 * since answers to both would be the same, and so it does where an inside endpoint keeps its outside one. What came in alike in
 * both rounds is of one connection.
 */
function roundsOf(passage: Passage): Rounds {
  const { connection, flow, node, visits, sent } = passage;
  if (connection?.kind !== "fresh") return { others: flow };
  const hasPorts = has(flow, SOURCE_PORT) || has(flow, ICMP_TYPE);
  const ends = hasPorts ? (node.stack.mapping === undefined ? [] : [DESTINATION]) : [SOURCE, DESTINATION];
  for (let visit = visits; visit !== undefined && ends.length > 0; visit = visit.before) {
    const { before, flow: came } = visit;
    if ((before?.leg.node.stack.id ?? sent.at) !== node.stack.id) continue;
    for (const end of ends) {
      const rounds = roundsBy(flow, end, { began: before?.flow.view, came, begins: connection.before });
      if (rounds !== undefined) return rounds;
    }
  }
  return { others: flow };
}

/** An earlier round: as it came in, absent where it began here, and as it left; and as this one came in. */
type Round = { readonly began: View | undefined; readonly came: Flow; readonly begins: View };

/** Rounds that differ in one end as they came in, and no longer as they leave; undefined: these do not. */
function roundsBy(flow: Flow, end: number, { began, came, begins }: Round): Rounds | undefined {
  const [now, was] = [sightOf(begins, end), began === undefined ? { variable: end, plus: 0n } : sightOf(began, end)];
  if (was.variable === now.variable) return undefined;
  const value = onlyValue(shift(setOf(flow, now.variable), now.plus));
  const seen = onlyValue(valuesOf(flow, end));
  if (value === undefined || seen === undefined || onlyValue(valuesOf(came, end)) !== seen) return undefined;
  return apart(flow, was, value);
}

/** Packets of which a field was another one, and those of which it was this. */
function apart(flow: Flow, { variable, plus }: Sight, value: bigint): Rounds {
  const set = setOf(flow, variable);
  const alike = intersectRanges(set, single(value - plus));
  const apart = subtractRanges(set, alike);
  return {
    ...(apart.length === 0 ? {} : { again: withSet(flow, variable, apart) }),
    ...(alike.length === 0 ? {} : { others: withSet(flow, variable, alike) }),
  };
}
