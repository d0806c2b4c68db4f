/**
 * Which of the routes to one next hop led packets there: asked where packets end by it, and where one of them is shown.
 */
import type { Origin } from "../diagnose/index.ts";
import { type Flow, setOf, shift, withSet } from "./flow.ts";
import { cutBy } from "./stretches.ts";
import type { Trail } from "./trail.ts";

/** Packets that one line led on. */
export type Lined = {
  /** The packets. */
  readonly flow: Flow;
  /** The line. */
  readonly origin: Origin;
};

/** Packets that took a step, parted by the line that decided. */
export function partedByLine(flow: Flow, { step, led }: Trail): readonly Lined[] {
  if (led?.by !== "routes") return [{ flow, origin: step.origin }];
  const { variable, plus } = led.destination;
  return cutBy(led.stretches, shift(setOf(flow, variable), plus)).map(({ value, numbers }) => ({
    flow: withSet(flow, variable, shift(numbers, -plus)),
    origin: value?.origin ?? step.origin,
  }));
}
