/**
 * Steps that let some packets go on and end the others: `require`, `own-source`, `broadcast-source`, `reverse-path`,
 * `filter`, `no-transit`, `hop-limit`, `fit`.
 */
import { FAMILY_KEYS, intersectRanges, type Ranges, subtractRanges, unionRanges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { DropReason, FilterAction, Refusal, Route, Step } from "../network/index.ts";
import { type Leg, type Node, need } from "./atlas.ts";
import { DESTINATION, HOP_LIMIT, LENGTH, SOURCE } from "./fields.ts";
import { cut, type Flow, moved, narrowed, without } from "./flow.ts";
import { gathered } from "./gathered.ts";
import { groupsOf } from "./groups.ts";
import { kindsOf } from "./kinds.ts";
import { having, onward, type Passage, withFlow } from "./passage.ts";
import { LINK_LOCAL } from "./reaches.ts";
import { TIME_EXCEEDED, TOO_BIG, turnedAway } from "./refusal.ts";
import { stretchesOf, waysOf } from "./routes.ts";
import { mayCutOtherwise, mayTouch } from "./rules.ts";
import { numbersWhere } from "./stretches.ts";
import { familyOf } from "./tracking.ts";
import { type Led, ledBy, stepped } from "./trail.ts";
import type { Walk } from "./walk.ts";

const IPV4: Ranges = [FAMILY_KEYS[4]];

/** A step of one kind. */
export type StepOf<Op extends Step["op"]> = Extract<Step, { readonly op: Op }>;

/** Ends packets silently. */
export function drop(walk: Walk, passage: Passage, flow: Flow | undefined, reason: DropReason, origin: Origin): void {
  if (flow === undefined) return;
  walk.end(withFlow(passage, flow), { at: passage.node.stack.id, origin, end: "dropped", reason });
}

/** Ends packets as a refusal says. */
export function refuse(
  walk: Walk,
  passage: Passage,
  flow: Flow | undefined,
  end: { readonly reason: DropReason; readonly origin: Origin; readonly with: Refusal },
): void {
  if (flow === undefined) return;
  // A reset answers TCP alone.
  for (const piece of end.with.answer.kind === "tcp-reset" ? kindsOf(flow) : [flow]) {
    const fate = turnedAway(passage.node.stack.id, end.origin, end.reason, end.with, piece);
    walk.end(withFlow(passage, piece), fate);
  }
}

/** Packets that fit go on. */
export function takeRequire(walk: Walk, passage: Passage, step: StepOf<"require">): readonly Passage[] {
  if (step.fromOutside === true && passage.ingress === undefined) return [onward(passage)];
  const list = walk.ground.alternativesOf(step, step.that);
  const { decided, left } = list.split(passage.flow, walk.ground.meter);
  for (const flow of left) {
    refuse(walk, passage, flow, { reason: step.reason, origin: step.origin, with: step.otherwise });
  }
  return gathered(decided.map(({ flow }) => flow)).map((flow) => onward(passage, flow));
}

/** A packet from outside with an own address as its source ends (kernel fact 7); in IPv6 nobody looks. */
export function takeOwnSource(walk: Walk, passage: Passage, step: StepOf<"own-source">): readonly Passage[] {
  if (passage.ingress === undefined) return [onward(passage)];
  return butFrom(walk, passage, ownIpv4(passage.node), { reason: "own-source", origin: step.origin });
}

/** A packet from outside whose source is the broadcast address of an own network, or of every one, ends. */
export function takeBroadcastSource(
  walk: Walk,
  passage: Passage,
  { origin }: StepOf<"broadcast-source">,
): readonly Passage[] {
  if (passage.ingress === undefined) return [onward(passage)];
  return butFrom(walk, passage, groupsOf(passage.node).broadcasts, { reason: "martian", origin });
}

/** Packets from some sources end; the others go on. */
function butFrom(
  walk: Walk,
  passage: Passage,
  sources: Ranges,
  { reason, origin }: { readonly reason: DropReason; readonly origin: Origin },
): readonly Passage[] {
  const others = without(passage.flow, SOURCE, sources);
  if (others !== passage.flow) drop(walk, passage, narrowed(passage.flow, SOURCE, sources), reason, origin);
  return others === undefined ? [] : [onward(passage, others)];
}

const ownOfNodes = new WeakMap<Node, Ranges>();

function ownIpv4(node: Node): Ranges {
  const own = ownOfNodes.get(node) ?? intersectRanges(node.own, IPV4);
  ownOfNodes.set(node, own);
  return own;
}

type Mode = "strict" | "loose";
/** `-to-link`: for what is sent to an address of the link. */
type Asking = Mode | `${Mode}-to-link`;
const believable = new WeakMap<Leg, Map<Asking, Ranges>>();
/** Sources that no route leads to and that pass all the same: nobody yet, and whoever is on the link. */
const LOCAL_SOURCES: Ranges = unionRanges(
  [
    [0n, 0n],
    [1n << 128n, 1n << 128n],
  ],
  LINK_LOCAL,
);

/** Sources that may come in by an interface (RFC 3704). */
export function sourcesBy(leg: Leg, asking: Asking): Ranges {
  const known = believable.get(leg) ?? new Map<Asking, Ranges>();
  believable.set(leg, known);
  const sources =
    known.get(asking) ?? unionRanges(unionRanges(routedSources(leg, asking), leg.node.beyond), LOCAL_SOURCES);
  known.set(asking, sources);
  return sources;
}

/**
 * The way to an own address leads out nowhere (IPv6: seen on Linux 6.18), and a broadcast address is no station's (RFC
 * 1812 section 5.3.7; seen on Linux 6.18).
 */
function routedSources(leg: Leg, asking: Asking): Ranges {
  return subtractRanges(sourcesByRoute(leg, asking), unionRanges(leg.node.own, groupsOf(leg.node).broadcasts));
}

function sourcesByRoute(leg: Leg, asking: Asking): Ranges {
  const { waysBack, routesBack } = leg.node;
  const ways = asking.endsWith("-to-link") ? waysOf(stretchesOf(linkFirst(routesBack, leg))) : waysBack;
  return numbersWhere(ways, (route) => {
    const { action } = route;
    if (action.do === "local") return true;
    return action.do === "forward" && (asking.startsWith("loose") || leavesBy(route, leg));
  });
}

/** Of one prefix first the routes that leave by an interface (seen on Linux 6.18). */
function linkFirst(routes: readonly Route[], leg: Leg): readonly Route[] {
  return routes.map((route) => (leavesBy(route, leg) ? { ...route, metric: Number.NEGATIVE_INFINITY } : route));
}

function leavesBy({ action }: Route, leg: Leg): boolean {
  return action.do === "forward" && action.hops.some(({ egress }) => egress === leg.interface.id);
}

/** Packets whose source belongs where they came in go on. */
export function takeReversePath(walk: Walk, passage: Passage, step: StepOf<"reverse-path">): readonly Passage[] {
  if (passage.ingress === undefined) return [onward(passage)];
  if (step.family !== undefined && step.family !== familyOf(passage.flow)) return [onward(passage)];
  const { ingress, flow } = passage;
  const asked = [
    { piece: without(flow, DESTINATION, LINK_LOCAL), asking: step.mode },
    { piece: narrowed(flow, DESTINATION, LINK_LOCAL), asking: `${step.mode}-to-link` },
  ] as const;
  return asked.flatMap(({ piece, asking }) => {
    if (piece === undefined) return [];
    const { hit, rest } = cut(piece, [{ kind: "number", field: SOURCE, within: sourcesBy(ingress, asking) }]);
    for (const stopped of rest) drop(walk, passage, stopped, "reverse-path", step.origin);
    return hit === undefined ? [] : [onward(passage, hit)];
  });
}

type Line = {
  readonly flow: Flow;
  readonly action: FilterAction;
  readonly origin: Origin;
  readonly detail: string;
  readonly led?: Led;
};

/** First match of a table. */
export function takeFilter(walk: Walk, passage: Passage, step: StepOf<"filter">): readonly Passage[] {
  const { table, rules } = need(walk.ground.atlas.filters, step.table, "filter");
  walk.looked.add(table.id);
  walk.ground.notes.filter(table.id, (when, instead) =>
    instead === undefined ? mayTouch(passage.flow, when) : mayCutOtherwise(passage.flow, when, instead),
  );
  const { decided, left } = rules.split(passage.flow, walk.ground.meter);
  const accepted = decided.filter(({ rule }) => rule.action.do === "accept");
  const passing = gathered(accepted.map(({ flow }) => flow));
  const lines: Line[] = [
    ...decided.flatMap(({ rule: { action, origin, id }, flow }): readonly Line[] => {
      const line = { action, origin, detail: id };
      if (action.do !== "accept") return [{ ...line, flow }];
      // Which of them lets a packet pass is told by the packet, so all that pass are told at the first.
      if (flow !== accepted[0]?.flow) return [];
      return passing.map((each) => ({ ...line, flow: each, led: { by: "rules", rules, flow: each } }));
    }),
    ...left.map((flow) => ({ flow, ...table.otherwise, detail: `no rule of ${table.id} fits` })),
  ];
  return lines.flatMap((line) => obey(walk, passage, line));
}

function obey(walk: Walk, passage: Passage, { flow, action, origin, detail, led }: Line): readonly Passage[] {
  const plain = stepped(passage.trail, passage.node.stack.id, "filter", origin, detail);
  const trail = led === undefined ? plain : ledBy(plain, led);
  const here = withFlow(passage, flow, trail);
  switch (action.do) {
    case "accept":
      return [onward(here)];
    case "drop":
      drop(walk, here, flow, "filter", origin);
      return [];
    case "refuse":
      refuse(walk, here, flow, { reason: "filter", origin, with: action.with });
      return [];
    case "unknown":
      return [onward(doubted(walk, here, action.note, origin))];
  }
}

/** Nobody knows what becomes of these: they end here, and go on in case they are let through. */
function doubted(walk: Walk, passage: Passage, note: string, origin: Origin): Passage {
  const at = passage.node.stack.id;
  walk.end(passage, { at, origin, end: "unknown", note });
  return having(passage, { doubt: passage.doubt ?? { note, origin, at } });
}

/** Forwarding is off (kernel fact 3). */
export function takeNoTransit(walk: Walk, passage: Passage, step: StepOf<"no-transit">): readonly Passage[] {
  drop(walk, passage, passage.flow, "no-transit", step.origin);
  return [];
}

/** Matters only where something looks at hop limits: whoever sends can start high enough. */
export function takeHopLimit(walk: Walk, passage: Passage, step: StepOf<"hop-limit">): readonly Passage[] {
  const here = having(passage, { trail: stepped(passage.trail, passage.node.stack.id, "hop-limit", step.origin) });
  if (!walk.ground.looks.has("hopLimit")) return [onward(here)];
  const { hit, rest } = cut(here.flow, [{ kind: "number", field: HOP_LIMIT, within: [[2n, 255n]] }]);
  for (const flow of rest) {
    refuse(walk, here, flow, { reason: "hop-limit", origin: step.origin, with: TIME_EXCEEDED });
  }
  return hit === undefined ? [] : [onward(here, moved(hit, HOP_LIMIT, -1n))];
}

/** Matters only where something looks at lengths: whoever sends can send little. IPv4 goes on in pieces. */
export function takeFit(walk: Walk, passage: Passage, step: StepOf<"fit">): readonly Passage[] {
  const { egress, flow } = passage;
  const isShort = egress === undefined || !walk.ground.looks.has("length");
  if (isShort || familyOf(flow) === 4 || passage.ingress === undefined) return [onward(passage)];
  const { hit, rest } = cut(flow, [{ kind: "number", field: LENGTH, within: [[0n, BigInt(egress.interface.mtu)]] }]);
  for (const large of rest) refuse(walk, passage, large, { reason: "too-big", origin: step.origin, with: TOO_BIG });
  return hit === undefined ? [] : [onward(passage, hit)];
}
