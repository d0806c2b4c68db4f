/**
 * Packets of many senders, walked together: they are told apart by their sources alone, and wait for one another where they come
 * in at a stack and where a stack has decided where they go. So a router is passed once for all who come by it and for all that they
 * want, and the work grows with the network and not with its pairs.
 *
 * What is asked is less than a question asks: which packets that need no others before them arrive, and not by which line or how they
 * end. Packets that pass one choice twice are not held to what they took before: they arrive if they do in some outcome.
 */
import { type Ranges, rangesOverlap, single } from "../address/index.ts";
import type { Leg } from "./atlas.ts";
import { alikeBy, listOf } from "./by-key.ts";
import { DESTINATION, SOURCE } from "./fields.ts";
import { type Flow, kindOf, productsOf, setOf, sightOf, valuesOf, withSet } from "./flow.ts";
import { gathered, wordOfSet, wordOfSights } from "./gathered.ts";
import type { Entering, Ground } from "./ground.ts";
import { type Connection, type Passage, passageAt, withFlow } from "./passage.ts";
import { arranged, left, type Square } from "./squares.ts";
import { stepped, wordOf } from "./trail.ts";
import { type Ending, heardBy, type Stepping, Walk } from "./walk.ts";

/** Told of packets that arrive: sources as they were sent, destinations as they arrive; the packets; whether somebody knows that they do. */
export type Arrival = (square: Square, flow: Flow, isSure: boolean) => void;

/** A walk of many senders; sources have to tell them apart. */
export class Together extends Walk {
  readonly #waiting = new Map<string, Passage[]>();
  /** By where they came in, and by all but their sources and destinations. */
  readonly #before = new Map<string, readonly Square[]>();
  readonly #numbers = new Map<object, number>();
  readonly #arrival: Arrival;

  constructor(ground: Ground, take: Stepping, arrival: Arrival) {
    super(ground, take);
    this.#arrival = arrival;
  }

  override run(): void {
    for (const [stand, passages] of this.#waiting) {
      // What comes there later waits at the end.
      this.#waiting.delete(stand);
      const work = [...this.#joined(stand, passages)];
      for (let passage = work.pop(); passage !== undefined; passage = work.pop()) {
        if (!this.ground.meter.take()) return;
        for (const next of this.take(this, passage)) {
          if (isOut(next)) continue;
          if (isMeeting(next)) this.#wait(next);
          else work.push(next);
        }
      }
    }
  }

  override addAll(passages: readonly Passage[]): void {
    for (const passage of passages) if (!isOut(passage)) this.#wait(passage);
  }

  #wait(passage: Passage): void {
    for (const flow of productsOf(passage.flow)) {
      const each = withFlow(passage, flow);
      listOf(this.#waiting, this.#standOf(each)).push(each);
    }
  }

  override enter(leg: Leg, from: Entering): readonly Passage[] {
    const flow = heardBy(leg, from.flow);
    if (flow === undefined) return [];
    const { node } = leg;
    // Who handed them over is asked, and nobody before.
    const visits = { leg, flow, ...(from.visits && { before: { leg: from.visits.leg, flow: from.visits.flow } }) };
    const trail = stepped(undefined, node.stack.id, "enter", leg.interface.origin);
    const come = { ...from, flow, visits, trail, strangers: undefined };
    return [passageAt({ node, steps: node.stack.received, next: 0, ingress: leg }, come)];
  }

  override arrive<Kind extends Ending>(passage: Kind): Kind {
    for (const flow of passage.arrived ? [] : productsOf(passage.flow)) {
      const square = { sources: setOf(flow, SOURCE), destinations: valuesOf(flow, DESTINATION) };
      this.#arrival(square, flow, passage.doubt === undefined);
    }
    return { ...passage, arrived: true };
  }

  /** How others end is not asked. */
  override end(): void {}

  /** What needs earlier packets is not asked for. */
  override await(): readonly Passage[] {
    return [];
  }

  override keep(): void {}

  /** Passages that stand alike in as few as there can be, without what came in there before. */
  #joined(stand: string, passages: readonly Passage[]): readonly Passage[] {
    const [first] = passages;
    if (first === undefined) return [];
    const flows = passages.map(({ flow }) => flow);
    const at = isEntry(first) ? stand : undefined;
    const fresh = alikeBy(flows, likenessOf).flatMap((alike) => this.#fresh(alike, at));
    return gathered(fresh, 2).map((flow) => withFlow(first, flow));
  }

  /** Flows that differ in their sources and destinations alone; `at`: without those that came there before. */
  #fresh(flows: readonly Flow[], at: string | undefined): readonly Flow[] {
    const [first] = flows;
    if (first === undefined) return [];
    const { variable } = sightOf(first.view, DESTINATION);
    const here = arranged(flows.map((flow) => ({ sources: setOf(flow, SOURCE), destinations: setOf(flow, variable) })));
    return this.#unknown(here, at === undefined ? undefined : `${at}|${likenessOf(first)}`).map(
      ({ sources, destinations }) => withSet(withSet(first, SOURCE, sources), variable, destinations),
    );
  }

  #unknown(here: readonly Square[], key: string | undefined): readonly Square[] {
    if (key === undefined) return here;
    const known = this.#before.get(key) ?? [];
    const fresh = here.flatMap((square) => left(square, known));
    this.#before.set(key, arranged([...known, ...fresh]));
    return fresh;
  }

  // -- words ---------------------------------------------------------------------------------------------------------

  /** One word for passages that differ in nothing but the sets of their packets. */
  #standOf(passage: Passage): string {
    const { node, steps, ingress, egress, via, heirs, turns, connection, trail, doubt, flow } = passage;
    const parts = [node, steps, ingress, egress, ...(heirs === "unowned" ? [] : (heirs ?? []))];
    return [
      parts.map((part) => this.#numberOf(part)).join(" "),
      via,
      turns,
      doubt === undefined,
      connection === undefined ? "" : wordOfConnection(connection),
      trail.picks.map(wordOf).join(" "),
      wordOfSights(flow.view),
      kindOf(flow),
      flow.names.map((names) => names.join("+")).join(" "),
      this.#handedOverBy(passage),
    ].join("|");
  }

  #numberOf(part: object | undefined): number {
    if (part === undefined) return 0;
    const known = this.#numbers.get(part) ?? this.#numbers.size + 1;
    this.#numbers.set(part, known);
    return known;
  }

  /** That counts only where it may be whom they go to next (`hasJustAsked`). */
  #handedOverBy({ visits, sent, egress, via, flow }: Passage): string {
    const before = visits?.before?.leg.node.stack.id ?? sent.at;
    const node = this.ground.atlas.nodes.get(before);
    if (node === undefined) return "";
    const wanted: Ranges = via === undefined ? valuesOf(flow, DESTINATION) : single(via);
    return egress === undefined || rangesOverlap(node.own, wanted) ? before : "";
  }
}

/** What rests on other packets, and what has arrived, goes no further. */
function isOut({ arrived, uses, sent }: Passage): boolean {
  return arrived || uses !== undefined || sent.met !== undefined;
}

function isEntry({ node, steps, next }: Passage): boolean {
  return next === 0 && steps === node.stack.received;
}

/** Where passages wait for others. */
function isMeeting(passage: Passage): boolean {
  return isEntry(passage) || (passage.next === 0 && passage.steps === passage.node.stack.onward);
}

function wordOfConnection(connection: Connection): string {
  if (connection.kind === "followed") return connection.kind;
  return `${connection.kind} ${connection.asked.join(" ")} ${wordOfSights(connection.before)}`;
}

/** A word for all sets of a flow but its sources and destinations. */
function likenessOf({ sets, view }: Flow): string {
  const { variable } = sightOf(view, DESTINATION);
  return sets.map((set, place) => (place === SOURCE || place === variable ? "" : wordOfSet(set))).join(" ");
}
