/**
 * Questions to a site at one moment of its course: as its links, leases and advertisements are then, whatever it would come to.
 */
import { createProver } from "../prove/index.ts";
import type { Course, ProbeRequest } from "../simulate/index.ts";
import { Evaluation } from "./evaluation.ts";
import { type Exchange, keyOf, type Watching } from "./exchange.ts";
import { eachOutcome } from "./outcomes.ts";
import type { Conversed, World } from "./worlds.ts";

/**
 * Questions to what a course is now; the answers stay those of this moment when it goes on, except for those of `converse`, which
 * are those of the time when it is asked. `remembers`: exchanges are made with what devices remember. Default: they know nothing yet.
 */
export function momentOf(course: Course, remembers = false): Evaluation {
  const { network, settled, standing, down, tunnels } = course.world;
  const world = { settled, picks: settled.picks, failures: course.failures, tunnels };
  const converse = remembers ? { converse: conversing(course, world) } : {};
  return new Evaluation(network, createProver, { down, gone: new Set(), moment: { world, standing, ...converse } });
}

function conversing(course: Course, world: World) {
  const known = new Map<string, { readonly atMs: number; readonly conversed: Conversed }>();
  return (request: ProbeRequest, fresh: Exchange, watch: Watching): Conversed => {
    const key = keyOf(request);
    const before = known.get(key);
    if (before?.atMs === course.nowMs) return before.conversed;
    const conversed = conversedOf(course, world, { key, request, fresh }, watch);
    known.set(key, { atMs: course.nowMs, conversed });
    return conversed;
  };
}

type Asked = { readonly key: string; readonly request: ProbeRequest; readonly fresh: Exchange };

/** Under every option of what its way leaves open; what is remembered is left behind by the first. */
function conversedOf(course: Course, world: World, { key, request, fresh }: Asked, watch: Watching): Conversed {
  const { setting } = course;
  const conversation = course.conversation(key, request);
  conversation.begin(setting.nowMs);
  const { runs, limit } = eachOutcome(world, (picks) => {
    const tried = conversation.try(setting, { ...watch, picks });
    return { ...tried, picksUsed: tried.result.picksUsed };
  });
  const outcomes = runs.map(({ run: { picksUsed: _, ...tried }, picks }) => ({ ...tried, picks }));
  const exchange = limit === undefined ? { outcomes } : { outcomes, limit };
  const isPassing = wordOf(exchange) !== wordOf(fresh);
  conversation.isPassing = isPassing;
  // Where it would come to no other end without them, it is the plan that is to blame.
  const isOfPlan = !isPassing && outcomes.some(({ stale }) => stale.length > 0);
  return { exchange: isOfPlan ? fresh : exchange, isPassing };
}

/** Whether an exchange comes to its end, and where it comes to, in all of its outcomes. */
function wordOf({ outcomes }: Exchange): string {
  const words = outcomes.map(({ result: { outcome, stalls } }) => {
    return [outcome.end === "answered" && stalls !== true, ...outcome.arrivals.map(({ device }) => device)].join(" ");
  });
  return [...new Set(words)].sort().join("; ");
}
