/**
 * Questions to a site at one moment of its course: as its links, leases and advertisements are then, whatever it would come to.
 */
import { createProver } from "../prove/index.ts";
import type { Course } from "../simulate/index.ts";
import { Evaluation } from "./evaluation.ts";

/** Questions to what a course is now; the answers stay those of this moment when it goes on. */
export function momentOf(course: Course): Evaluation {
  const { network, settled, standing, down, tunnels } = course.world;
  const world = { settled, picks: settled.picks, failures: course.failures, tunnels };
  return new Evaluation(network, createProver, { down, gone: new Set(), moment: { world, standing } });
}
