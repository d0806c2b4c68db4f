/**
 * Storylines: a site, what happens to it, and what must hold or was seen meanwhile. A story is laid out in time (`stage.ts`: one *rig* after
 * the other, each what the site is from outside), then played (`play.ts`: the course of the site between the scenes, every assertion
 * judged at each moment at which the site is another one), and what was broken is traced back to the steps without which it would not
 * have been (`causes.ts`: the story played without them).
 *
 * Guarantees: nothing is played of a story that cannot have happened so; the same story gives the same timeline; whatever a
 * change brings points at the storyline.
 *
 * ```ts
 * const timeline = replay({ document, path, site, assertions, plan, plans: new Map() });
 * timeline.demands.filter(({ status }) => status !== "passed");
 * ```
 */
export type { PlanFiles } from "./intent.ts";
export { examine, type Replayed, type ReplayRequest, replay } from "./replay.ts";
