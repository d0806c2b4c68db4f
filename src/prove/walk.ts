/**
 * The walk: sets of packets that go from step to step until every one of them has ended. Lists of work, those first that rest
 * on fewest other packets, each taken from its end, so that the order is the same each time. Nothing is walked twice: packets
 * that come to an interface where the same packets came in before have their fate already.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Fate, Id, Pick as Option } from "../network/index.ts";
import type { Leg, Node } from "./atlas.ts";
import { Connections } from "./connections.ts";
import { FAMILY, NUMBER_FIELDS } from "./fields.ts";
import { Classes, countOf, type Ended } from "./findings.ts";
import { covers, cut, type Flow, kindOf, narrowed } from "./flow.ts";
import type { Entering, Ground } from "./ground.ts";
import { isOfAllKinds, kindsOf } from "./kinds.ts";
import { partedByLine } from "./lines.ts";
import type { LinkReach } from "./link.ts";
import { COMPARED } from "./meter.ts";
import { type Entry, namesAt, type Passage, passageAt, type Use, type Visit } from "./passage.ts";
import { areTaken, type Trail } from "./trail.ts";

/** Takes one step; answers what goes on. */
export type Stepping = (walk: Walk, passage: Passage) => readonly Passage[];

type Seen = {
  readonly flow: Flow;
  readonly picks: readonly Option[];
  readonly counts: boolean;
  readonly arrived: boolean;
  readonly isSure: boolean;
  readonly isPlain: boolean;
};

/** Packets that rest on this many others, or on more, are walked in one order. */
const MOST_APART = 64;

/** One walk. */
export class Walk {
  readonly ground: Ground;
  /** Packets that reach the target. */
  readonly reached: Classes = new Classes();
  /** Packets that reach the target, and may. */
  readonly permitted: Classes = new Classes();
  /** Packets that end elsewhere. */
  readonly stopped: Classes = new Classes();
  /** Parts that were looked at. */
  readonly looked: Set<Id> = new Set();
  /** The first thing that nobody knows and that would let packets reach the target. */
  doubt: { readonly note: string; readonly origin: Origin } | undefined;
  /** It may stop as soon as something that needs no other packets has reached the target. */
  endsSoon = false;
  /** Takes one step. */
  readonly take: Stepping;
  /** By how many others they rest on. */
  readonly #work: Passage[][] = [];
  /** None that rest on fewer are left. */
  #least = 0;
  readonly #seen = new Map<Leg, Map<string, Seen[]>>();
  readonly #lookedAt = new Set<LinkReach>();
  readonly #connections: Connections;

  constructor(ground: Ground, take: Stepping) {
    this.ground = ground;
    this.take = take;
    this.#connections = new Connections(ground);
  }

  /** Walks until nothing is left, or the meter has run out. */
  run(): void {
    for (let passage = this.#next(); passage !== undefined; passage = this.#next()) {
      if (!this.ground.meter.take() || (this.endsSoon && this.reached.hasPlain)) return;
      this.addAll(this.take(this, passage));
    }
  }

  /** Those that rest on fewest: of packets that come somewhere twice the first ones are told, and theirs is the simplest example. */
  #next(): Passage | undefined {
    for (; this.#least < this.#work.length; this.#least++) {
      const passage = this.#work[this.#least]?.pop();
      if (passage !== undefined) return passage;
    }
    return undefined;
  }

  /** More work; the first is taken first. */
  addAll(passages: readonly Passage[]): void {
    for (let at = passages.length - 1; at >= 0; at--) {
      const passage = passages[at];
      if (passage === undefined) continue;
      const rests = Math.min(passage.uses?.rests ?? 0, MOST_APART);
      while (this.#work.length <= rests) this.#work.push([]);
      this.#work[rests]?.push(passage);
      this.#least = Math.min(this.#least, rests);
    }
  }

  /** All that frames come by. */
  lookAt(reach: LinkReach): void {
    if (this.#lookedAt.has(reach)) return;
    this.#lookedAt.add(reach);
    for (const part of reach.looked) this.looked.add(part);
  }

  /** Packets come in by an interface. */
  enter(leg: Leg, from: Entering): readonly Passage[] {
    this.ground.notes.stack(leg.node.stack.id);
    this.ground.notes.link([leg.interface.id]);
    const flow = heardBy(leg, from.flow);
    if (flow === undefined || this.#isLoop(leg, flow, from)) return [];
    return this.#unknown(leg, flow, from).map((piece) => this.#entered(leg, piece, from));
  }

  #entered(leg: Leg, flow: Flow, from: Entering): Passage {
    this.looked.add(leg.node.stack.id);
    this.#doubtForwards(leg, from);
    const visits: Visit = { leg, flow, ...(from.visits === undefined ? {} : { before: from.visits }) };
    const { node } = leg;
    return passageAt({ node, steps: node.stack.received, next: 0, ingress: leg }, { ...from, flow, visits });
  }

  /** Packets that did not come in there before; of all kinds at once those kinds that did not. */
  #unknown(leg: Leg, flow: Flow, from: Entering): readonly Flow[] {
    const seen = this.#seen.get(leg) ?? new Map<string, Seen[]>();
    this.#seen.set(leg, seen);
    const isUnknown = (piece: Flow): boolean => !this.#isKnown(seen, piece, from);
    if (!isUnknown(flow)) return [];
    const areApart = isOfAllKinds(flow) && [...seen.keys()].some((word) => word !== wordOf(flow));
    const kinds = areApart ? kindsOf(flow) : [flow];
    const others = areApart ? kinds.filter(isUnknown) : kinds;
    const left = others.length === kinds.length ? [flow] : others;
    for (const piece of left) this.#remember(seen, piece, from);
    return left;
  }

  /** Clients inside may have opened any way in from an upstream. */
  #doubtForwards(leg: Leg, { counts }: Entering): void {
    const { clientsMayOpenForwards: origin } = leg.node.stack;
    if (origin === undefined || !counts || !this.ground.facesUpstream(leg)) return;
    this.doubt ??= { note: "clients inside may open forwards of their own", origin };
  }

  #isLoop(leg: Leg, flow: Flow, from: Entering): boolean {
    let passed = 0;
    for (let visit = from.visits; visit !== undefined; visit = visit.before) {
      if (++passed % COMPARED === 0 && !this.ground.meter.take()) return false;
      if (visit.leg !== leg || !covers(visit.flow, flow)) continue;
      this.#endLoop(leg, { ...from, flow });
      return true;
    }
    return false;
  }

  #endLoop({ node, interface: { origin } }: Leg, from: Entering): void {
    const at = node.stack.id;
    const route = lastRoute(from.trail, at);
    const lines = route === undefined ? [{ flow: from.flow, origin }] : partedByLine(from.flow, route);
    for (const line of lines) this.end({ ...from, flow: line.flow }, { at, origin: line.origin, end: "looped" });
  }

  #isKnown(seen: ReadonlyMap<string, readonly Seen[]>, flow: Flow, from: Entering): boolean {
    const isSure = from.doubt === undefined;
    const isPlain = isPlainly(from);
    const covering = (each: Seen): boolean =>
      (each.counts || !from.counts) &&
      // What has arrived tells of no later place where it would.
      (!each.arrived || from.arrived) &&
      (each.isSure || !isSure) &&
      (each.isPlain || !isPlain) &&
      // Options that the others had to take may have closed ways that are open to these.
      areTaken(each.picks, from.trail.picks) &&
      covers(each.flow, flow);
    const alike = seen.get(wordOf(flow)) ?? [];
    const ofAll = isOfAllKinds(flow) ? [] : (seen.get(OF_ALL_KINDS) ?? []);
    this.ground.meter.take(1 + Math.floor((alike.length + ofAll.length) / COMPARED));
    return alike.some(covering) || ofAll.some(covering);
  }

  #remember(seen: Map<string, Seen[]>, flow: Flow, from: Entering): void {
    const { trail, counts, arrived, doubt } = from;
    const found: Seen = {
      flow,
      picks: trail.picks,
      counts,
      arrived,
      isSure: doubt === undefined,
      isPlain: isPlainly(from),
    };
    const alike = seen.get(wordOf(flow));
    if (alike === undefined) seen.set(wordOf(flow), [found]);
    else alike.push(found);
  }

  // -- ends --------------------------------------------------------------------------------------------------------

  /**
   * Packets end; nothing is told of those of which nobody knows whether they got so far. Of those that rest on earlier
   * packets only what one tracker takes for an answer is told, to a connection that did not come in by a mapping itself.
   */
  end(passage: Ending, fate: Fate): void {
    const { uses } = passage;
    if (passage.doubt !== undefined) return;
    const rests = (use: Use): boolean => countOf(use, 2) > 1 || use.entry.uses?.entry.node === use.entry.node;
    const isAsked = uses === undefined ? passage.aimed : passage.quotes === undefined && !rests(uses);
    if (isAsked && passage.counts && !passage.arrived) this.stopped.add(fate, endedOf(passage), NUMBER_FIELDS.length);
  }

  /** Packets reach the target; where they end up does not matter from here on. */
  arrive<Kind extends Ending>(passage: Kind, fate: Fate): Kind {
    if (passage.counts && !passage.arrived) {
      for (const flow of this.#notPermitted(passage, fate)) this.#breach({ ...passage, flow }, fate);
    }
    return { ...passage, arrived: true };
  }

  #breach(passage: Ending, fate: Fate): void {
    if (passage.doubt === undefined) this.reached.add(fate, endedOf(passage), NUMBER_FIELDS.length);
    else this.doubt ??= passage.doubt;
  }

  /** Notes down what may be there; answers the rest. */
  #notPermitted(passage: Ending, fate: Fate): readonly Flow[] {
    const { permitted } = this.ground;
    let left: readonly Flow[] = permitted.length === 0 ? [passage.flow] : kindsOf(passage.flow);
    const isError = passage.quotes === true;
    for (const tests of permitted.flatMap(({ packets, errors }) => (isError ? errors : [packets]))) {
      if (left.length === 0 || !this.ground.meter.take(left.length)) break;
      left = left.flatMap((piece) => {
        const { hit, rest } = cut(piece, tests);
        if (hit !== undefined && passage.doubt === undefined)
          this.permitted.add(fate, endedOf({ ...passage, flow: hit }), NUMBER_FIELDS.length);
        return rest;
      });
    }
    return left;
  }

  // -- connections -------------------------------------------------------------------------------------------------

  /** Packets come to tracking: those of connections begun before go on as such. */
  await(passage: Passage): readonly Passage[] {
    return this.#connections.await(passage);
  }

  /** Connections that can live at a stack. */
  entriesAt(node: Node): readonly Entry[] {
    return this.#connections.at(node);
  }

  /** A connection lives: packets that came to tracking before may belong to it. */
  keep(entry: Entry): void {
    this.addAll(this.#connections.keep(entry));
  }
}

/** What is needed to write down an end. */
export type Ending = Ended & Pick<Passage, "counts" | "aimed" | "arrived" | "doubt">;

/** Packets as they come in by an interface; undefined: one that speaks no IPv6 takes none. */
export function heardBy(leg: Leg, flow: Flow): Flow | undefined {
  const heard = leg.interface.speaks6 ? flow : narrowed(flow, FAMILY, [[4n, 4n]]);
  return heard && { sets: heard.sets, names: namesAt(leg), view: heard.view, parts: heard.parts };
}

const OF_ALL_KINDS = "of all kinds";

/** A word for packets that can cover one another, but for those of all kinds, which can cover any. */
function wordOf(flow: Flow): string {
  return isOfAllKinds(flow) ? OF_ALL_KINDS : kindOf(flow);
}

/** What came only with the help of earlier packets says nothing of what needs none. */
function isPlainly({ uses, sent }: Entering): boolean {
  return uses === undefined && sent.met === undefined;
}

function endedOf({ flow, sent, trail, depth, uses, strangers, quotes }: Ended): Ended {
  return { flow, sent, trail, depth, uses, strangers, quotes };
}

/** Without the fields that hold nothing. */
export function optional<Fields extends object>(
  fields: Fields,
): { [Key in keyof Fields]?: Exclude<Fields[Key], undefined> } {
  // Hot: a loop costs a tenth of lists of entries. It keeps the defined fields only, which is what the type says.
  const kept: ReturnType<typeof optional<Fields>> = {};
  for (const key in fields) if (fields[key] !== undefined) kept[key] = fields[key] as (typeof kept)[typeof key];
  return kept;
}

function lastRoute(trail: Trail, at: Id): Trail | undefined {
  for (let here: Trail | undefined = trail; here !== undefined; here = here.before) {
    if (here.step.did === "route" && here.step.at === at) return here;
  }
  return undefined;
}
