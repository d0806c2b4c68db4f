/**
 * Connections that the sender can begin, gathered at each stack as they are confirmed. Each meets every set of packets
 * that came to tracking there, before and after, until nothing new appears.
 */
import { type Ranges, rangesWithin } from "../address/index.ts";
import type { Stack } from "../network/index.ts";
import type { Node } from "./atlas.ts";
import { listOf } from "./by-key.ts";
import { countOf } from "./findings.ts";
import { kindOf, productsOf } from "./flow.ts";
import { followersOfAll } from "./followers.ts";
import { gathered } from "./gathered.ts";
import type { Ground } from "./ground.ts";
import { COMPARED } from "./meter.ts";
import type { Entry, Passage } from "./passage.ts";
import { changed, leadingTo, shapeOf, tuplesOf } from "./tracking.ts";

/** What tells whether a connection adds anything to others. */
type Kept = { readonly isSure: boolean; readonly rests: number; readonly tuples: readonly Ranges[] };

/** Connections of one walk, and packets that may belong to them. */
export class Connections {
  readonly #ground: Ground;
  readonly #waiting = new Map<Node, Passage[]>();
  readonly #entries = new Map<Node, Entry[]>();
  readonly #kept = new Map<Node, Map<string, Kept[]>>();

  constructor(ground: Ground) {
    this.#ground = ground;
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
    const alike = alikeIn(this.#kept, entry.node, `${shapeOf(entry)} ${kindOf(entry.flow)}`);
    const [isSure, rests] = [entry.doubt === undefined, countOf(entry.uses)];
    const added = productsOf(entry.flow).filter((flow) => {
      this.#ground.meter.take(Math.floor(alike.length / COMPARED));
      const kept: Kept = { isSure, rests, tuples: tuplesOf({ ...entry, flow }) };
      if (alike.some((known) => includes(known, kept))) return false;
      alike.push(kept);
      return true;
    });
    return gathered(added).flatMap((flow) => {
      const found = { ...entry, flow };
      listOf(this.#entries, entry.node).push(found);
      return (this.#waiting.get(entry.node) ?? []).flatMap((passage) => this.#follow(passage, found));
    });
  }

  #follow(passage: Passage, entry: Entry): readonly Passage[] {
    this.#ground.meter.take(entry.flow.parts?.boxes.length ?? 1);
    const { stack } = entry.node;
    const found = followersOfAll(passage, entry, this.#ground.flagsMatter || checksAfterConfirm(stack));
    // Without a step of its own for it, a stack turns an answer back as soon as it knows it.
    const isTranslatedLater = stack.received.some((step) => step.op === "translate" && step.end === "destination");
    const leading = found.flatMap((each) => leadingTo(each, this.#ground));
    return isTranslatedLater ? leading : leading.map((each) => changed(each, "destination"));
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
