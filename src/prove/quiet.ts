/**
 * Packets that are followed through single stacks to learn what these let through: nothing is told of them.
 */
import type { Notes, Step } from "../network/index.ts";
import type { Leg } from "./atlas.ts";
import { Meter } from "./meter.ts";
import { FRESH, type Passage, passageAt } from "./passage.ts";
import { stepped } from "./trail.ts";
import { Walk } from "./walk.ts";

/** A walk of its own; it may take its notes elsewhere. */
export function quietWalk(walk: Walk, notes: Notes): Walk {
  return new Walk({ ...walk.ground, notes, meter: new Meter(Number.POSITIVE_INFINITY) }, walk.take);
}

/** Packets at a step of a stack. */
export function passing(
  leg: Leg,
  flow: Passage["flow"],
  steps: readonly Step[],
  next: number,
  sent?: Passage["sent"],
): Passage {
  const { stack } = leg.node;
  const trail = stepped(undefined, stack.id, "ask", stack.origin);
  const begun = sent ?? { at: stack.id, tags: [] };
  const come = { flow, trail, sent: begun, depth: 0, counts: false, aimed: false, arrived: false, ...FRESH };
  return passageAt({ node: leg.node, steps, next, ingress: undefined }, come);
}

/** The step of what a stack sends that comes after its route was found. */
export function routed({ node: { stack } }: Leg): number {
  return stack.sent.findIndex((step) => step.op === "route") + 1;
}

/** Takes packets through their steps up to one of these; what ends or goes another way is left out. */
export function through(walk: Walk, start: Passage, until: readonly Step["op"][]): readonly Passage[] {
  const done: Passage[] = [];
  const work = [start];
  for (let passage = work.pop(); passage !== undefined; passage = work.pop()) {
    const op = passage.steps[passage.next]?.op;
    if (op !== undefined && until.includes(op)) done.push(passage);
    else if (op !== "transmit" && op !== "neighbour") work.push(...walk.take(walk, passage));
  }
  return done;
}
