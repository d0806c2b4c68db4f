/**
 * Steps of connections: `track`, `translate`, `confirm`.
 */
import type { Pick } from "../network/index.ts";
import { choiceId } from "../settle/index.ts";
import { need } from "./atlas.ts";
import { STATE, TRANSLATED } from "./fields.ts";
import { type Flow, stateOf, withName } from "./flow.ts";
import { byMapping } from "./mappings.ts";
import { type Change, type Connection, having, onward, type Passage, type Stranger, withFlow } from "./passage.ts";
import { besideInside, comingRound, type Rounds, roundsOf } from "./rounds.ts";
import { mayTouch } from "./rules.ts";
import { drop, type StepOf } from "./step-checks.ts";
import { reroute } from "./step-route.ts";
import { changed, freshStates } from "./tracking.ts";
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
    if (stateOf(flow) === "untracked") return onward(passage, flow, trail);
    const strangers: Stranger = { node: passage.node, ...optional({ before: passage.strangers }) };
    return onward(having(passage, { trail, strangers }), flow);
  };
  return [
    ...decided.map(({ flow }) => tell(withName(flow, STATE, ["untracked"]))),
    ...left.flatMap((flow) => trackPiece(walk, withFlow(passage, flow), step, tell)),
  ];
}

function trackPiece(
  walk: Walk,
  passage: Passage,
  step: StepOf<"track">,
  tell: (flow: Flow) => Passage,
): readonly Passage[] {
  const { fresh, invalid } = freshStates(passage.flow, step.midStream);
  return [
    ...fresh.flatMap((flow) => begun(walk, withFlow(passage, flow), step, tell)),
    ...invalid.map((flow) => tell(withName(flow, STATE, ["invalid"]))),
    ...belonging(walk, passage, step),
  ];
}

/** What begins a connection; what comes a second time as it was belongs to its own, and is translated as it was then. */
function begun(
  walk: Walk,
  passage: Passage,
  { origin }: StepOf<"track">,
  tell: (flow: Flow) => Passage,
): readonly Passage[] {
  const { again, others, isOpen } = comingRound(passage, passage.flow, () => wasHidden(walk, passage));
  const note = "whether a translator draws another identifier";
  const doubt = passage.doubt ?? (isOpen && { note, origin, at: passage.node.stack.id });
  const asNew = (piece: Flow, connection: Connection): Passage => ({
    ...tell(withName(piece, STATE, ["new"])),
    connection,
  });
  return [
    ...others.map((piece): Passage => {
      const first = asNew(piece, { kind: "fresh", before: piece.view, asked: [] });
      return doubt === undefined ? first : having(first, { doubt });
    }),
    ...again.map(({ flow, source, destination }) => asNew(flow, { kind: "followed", source, destination })),
  ];
}

/** Whether a rule of this stack has translated the source of packets on their way here. */
function wasHidden(walk: Walk, { node: { stack }, trail }: Passage): boolean {
  const tables = [...stack.onward, ...stack.sent].flatMap((step) =>
    step.op === "translate" && step.end === "source" ? [step.table] : [],
  );
  const { translations } = walk.ground.atlas;
  const rules = tables.flatMap((id) => need(translations, id, "translation").table.rules.map((rule) => rule.id));
  for (let at: Trail | undefined = trail; at !== undefined; at = at.before)
    if (at.step.at === stack.id && at.step.did === "translate" && rules.includes(at.step.detail)) return true;
  return false;
}

/** Whoever sends frames of its own choice can make them belong to connections it began. */
function belonging(walk: Walk, passage: Passage, step: StepOf<"track">): readonly Passage[] {
  const isHonest = walk.ground.atlas.nodes.has(passage.sent.at);
  if (isHonest || passage.ingress === undefined) return [];
  const trail = stepped(passage.trail, passage.node.stack.id, "track", step.origin, "of a connection begun before");
  return walk.await(having(passage, { trail }));
}

/** The first packet asks the table, later ones follow the connection. */
export function takeTranslate(walk: Walk, passage: Passage, step: StepOf<"translate">): readonly Passage[] {
  const { connection, node } = passage;
  if (connection === undefined) return [onward(passage)];
  if (connection.kind === "followed") {
    const done = changed(passage, step.end);
    if (done.flow === passage.flow) return [onward(passage)];
    const trail = stepped(passage.trail, node.stack.id, "translate", step.origin, "as the connection says");
    return [onward(having(done, { trail }))];
  }
  if (connection.asked.includes(step.end)) return [onward(passage)];
  const asked = having(passage, { connection: { ...connection, asked: [...connection.asked, step.end] } });
  return askTable(walk, asked, step);
}

function askTable(walk: Walk, passage: Passage, step: StepOf<"translate">): readonly Passage[] {
  const { table, rules } = need(walk.ground.atlas.translations, step.table, "translation");
  walk.looked.add(table.id);
  // How far a match reaches decides what becomes of each of its packets.
  walk.ground.notes.filter(table.id, (when, instead = []) => mayTouch(passage.flow, [...when, ...instead]));
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
      return elsewhere(walk, { ...byMapping(withFlow(passage, flow), owed), trail }, step);
    }
    if (action.do === "keep") return kept(walk, withFlow(passage, flow), step, origin);
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
    for (const piece of lost) drop(walk, having(passage, { trail: translatedBy() }), piece.flow, piece.reason, origin);
    return pieces.flatMap((piece) => {
      const here = withFlow(passage, piece);
      const { again, others }: Rounds = step.end === "source" ? roundsOf(here) : { again: [], others: [here] };
      for (const one of again) drop(walk, having(passage, { trail: translatedBy() }), one, "no-free-port", origin);
      const drawn = around.portsMatter && step.end === "source" ? drawnPort(flow, piece) : undefined;
      const pick = drawn === undefined ? undefined : drawnBy(choiceId("source-port", id), drawn);
      return others.flatMap((each) => elsewhere(walk, { ...each, trail: translatedBy(pick) }, step));
    });
  });
}

function owedBy({ connection }: Passage): readonly Change[] | undefined {
  return connection?.kind === "fresh" ? connection.owed : undefined;
}

/** What no rule translates keeps its source, unless it was turned back inside. */
function kept(
  walk: Walk,
  passage: Passage,
  { end }: StepOf<"translate">,
  origin: StepOf<"translate">["origin"],
): readonly Passage[] {
  const { connection, ingress, egress, node } = passage;
  const isTurned = end === "source" && node.stack.mapping?.hairpin === true && egress !== undefined;
  if (!isTurned || ingress === undefined || connection?.kind !== "fresh") return [onward(passage)];
  const { before } = connection;
  const portsMatter = walk.ground.looks.has("sourcePort");
  return seenFromOutside(passage.flow, { before, near: ingress.own, portsMatter }).flatMap((flow) => {
    const here = withFlow(passage, flow);
    const { again, others }: Rounds = besideInside(here) ?? { again: [], others: [here] };
    for (const one of again) drop(walk, passage, one, "no-free-port", origin);
    return others.map((each) => onward(each));
  });
}

/** What the stack itself sends goes another way once its destination is another one. */
function elsewhere(walk: Walk, passage: Passage, step: StepOf<"translate">): readonly Passage[] {
  const isSent = passage.ingress === undefined && (passage.egress !== undefined || passage.turns === true);
  if (step.end === "source" || !isSent) return [onward(passage)];
  return reroute(walk, passage, step.origin);
}

/** A connection lives on: the packets that begin it got here. */
export function takeConfirm(walk: Walk, passage: Passage, { origin }: StepOf<"confirm">): readonly Passage[] {
  const { connection, node, sent, doubt } = passage;
  if (connection?.kind !== "fresh" || stateOf(passage.flow) !== "new") return [onward(passage)];
  const { again, others } = roundsOf(passage);
  for (const one of again) drop(walk, passage, one, "no-free-port", origin);
  for (const { flow, uses } of others) {
    const [rewritten] = flow.names[TRANSLATED] ?? [];
    walk.keep({
      node,
      flow,
      before: connection.before,
      after: flow.view,
      translated: rewritten ?? "",
      sent,
      picks: passage.trail.picks,
      ...optional({ uses, doubt }),
    });
  }
  return others.map((each) => onward(each));
}
