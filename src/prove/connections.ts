/**
 * Connections that the sender can begin, gathered at each stack as they are confirmed. Each meets every set of packets
 * that came to tracking there, before and after, until nothing new appears.
 */
import { type Ranges, rangesWithin } from "../address/index.ts";
import type { Stack } from "../network/index.ts";
import type { Node } from "./atlas.ts";
import { listOf } from "./by-key.ts";
import { countOf } from "./findings.ts";
import { type Flow, kindOf, productsOf } from "./flow.ts";
import { Followed } from "./followed.ts";
import { followersOfAll } from "./followers.ts";
import { gathered } from "./gathered.ts";
import type { Ground } from "./ground.ts";
import { endpointsOf, isMapped, mappingShapeOf } from "./mappings.ts";
import { COMPARED } from "./meter.ts";
import type { Entry, Passage } from "./passage.ts";
import { changed, leadingTo, shapeOf, tuplesOf } from "./tracking.ts";

/** What tells whether a connection adds anything to others. */
type Kept = { readonly isSure: boolean; readonly rests: number; readonly tuples: readonly Ranges[] };

type KeptByNode = Map<Node, Map<string, Kept[]>>;

/** What of a connection tells whether it adds anything. */
type Telling = {
  /** How it changes its packets, in a word. */
  readonly shapeOf: (entry: Entry) => string;
  /** The sets that would have to be in those of a known one. */
  readonly tuplesOf: (entry: Entry) => readonly Ranges[];
};

/** Connections of one walk, and packets that may belong to them. */
export class Connections {
  readonly #ground: Ground;
  readonly #waiting = new Map<Node, Passage[]>();
  readonly #entries = new Map<Node, Entry[]>();
  readonly #kept: KeptByNode = new Map();
  readonly #mappings: KeptByNode = new Map();
  readonly #followed: Followed;
  /** Pairs of packets and connections that were compared and are not counted as work yet. */
  #compared = 0;

  constructor(ground: Ground) {
    this.#ground = ground;
    this.#followed = new Followed(ground.meter);
  }

  /** Connections that can live at a stack. */
  at(node: Node): readonly Entry[] {
    return this.#entries.get(node) ?? [];
  }

  /** Packets come to tracking: answers those that belong to a connection begun before. */
  await(passage: Passage): readonly Passage[] {
    const { node } = passage;
    listOf(this.#waiting, node).push(passage);
    return this.at(node).flatMap((entry) => this.#follow(passage, entry));
  }

  /** A connection lives: answers what waits and belongs to it. */
  keep(entry: Entry): readonly Passage[] {
    return gathered(this.#adding(this.#kept, entry, { shapeOf, tuplesOf })).flatMap((flow) => {
      const found = this.#mapping({ ...entry, flow });
      listOf(this.#entries, entry.node).push(found);
      return (this.#waiting.get(entry.node) ?? []).flatMap((passage) => this.#follow(passage, found));
    });
  }

  /** Products of a connection that add something to what is kept. */
  #adding(all: KeptByNode, entry: Entry, { shapeOf, tuplesOf }: Telling): readonly Flow[] {
    const alike = alikeIn(all, entry.node, `${shapeOf(entry)} ${kindOf(entry.flow)}`);
    const [isSure, rests] = [entry.doubt === undefined, countOf(entry.uses)];
    return productsOf(entry.flow).filter((flow) => {
      this.#ground.meter.take(Math.floor(alike.length / COMPARED));
      const kept: Kept = { isSure, rests, tuples: tuplesOf({ ...entry, flow }) };
      if (alike.some((known) => includes(known, kept))) return false;
      alike.push(kept);
      return true;
    });
  }

  /** Many connections of an inside endpoint share its outside one: what comes in by that comes in by the first of them. */
  #mapping(entry: Entry): Entry {
    if (!isMapped(entry)) return entry;
    const added = this.#adding(this.#mappings, entry, { shapeOf: mappingShapeOf, tuplesOf: endpointsOf });
    return added.length === 0 ? entry : { ...entry, maps: true };
  }

  #follow(passage: Passage, entry: Entry): readonly Passage[] {
    this.#compare(entry.flow.parts?.boxes.length ?? 1);
    const { stack } = entry.node;
    const found = followersOfAll(passage, entry, this.#ground.flagsMatter || checksAfterConfirm(stack));
    // Without a step of its own for it, a stack turns an answer back as soon as it knows it.
    const isTranslatedLater = stack.received.some((step) => step.op === "translate" && step.end === "destination");
    const leading = found.flatMap((each) => leadingTo(each, this.#ground));
    const next = isTranslatedLater ? leading : leading.map((each) => changed(each, "destination"));
    return next.filter((each) => this.#followed.isNew(each));
  }

  /** Most packets belong to most connections not: that is seen by comparing, and what belongs to one is counted as it goes on. */
  #compare(pairs: number): void {
    this.#compared += pairs;
    this.#ground.meter.take(Math.floor(this.#compared / COMPARED));
    this.#compared %= COMPARED;
  }
}

/** Whether a stack looks at packets once their connection lives, so that later ones can pass where the first cannot. */
function checksAfterConfirm({ local, onward, sent }: Stack): boolean {
  return [local, onward, sent].some((steps) => {
    const confirmed = steps.findIndex((step) => step.op === "confirm");
    return confirmed >= 0 && steps.slice(confirmed).some((step) => step.op === "filter" || step.op === "require");
  });
}

/** Whether a connection adds nothing to a known one that changes its fields in the same way. */
function includes(known: Kept, kept: Kept): boolean {
  if ((kept.isSure && !known.isSure) || known.rests > kept.rests) return false;
  return known.tuples.every((set, index) => rangesWithin(set, kept.tuples[index] ?? []));
}

/** What one key of an owner has, to be added to. */
function alikeIn<Owner, Value>(all: Map<Owner, Map<string, Value[]>>, owner: Owner, key: string): Value[] {
  const lists = all.get(owner) ?? new Map<string, Value[]>();
  all.set(owner, lists);
  return listOf(lists, key);
}
