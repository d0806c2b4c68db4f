/**
 * Questions to a site at one moment of its course: as its links, leases and advertisements are then, whatever it would come to.
 */
import type { Network } from "../network/index.ts";
import { createProver } from "../prove/index.ts";
import type { Course, ProbeRequest, ProbeResult } from "../simulate/index.ts";
import { Evaluation } from "./evaluation.ts";
import { type Exchange, type GoingOn, keyOf, type Watching } from "./exchange.ts";
import { eachOutcome } from "./outcomes.ts";
import { portsToldApart, tellsSourcePorts } from "./told-apart.ts";
import { Upkeep } from "./upkeep.ts";
import type { Conversed, Conversing, World } from "./worlds.ts";

/**
 * Questions to what a course is now; the answers stay those of this moment when it goes on, except for those of `converse`, which
 * are those of the time when it is asked. `remembers`: exchanges are made with what devices remember. Default: they know nothing yet.
 * `networks`: what the site is over time, so that what is open now is looked at as it will be told apart later. Default: none.
 */
export function momentOf(course: Course, remembers = false, networks: readonly Network[] = []): Evaluation {
  const { network, settled, standing, down, tunnels } = course.world;
  const world = { settled, picks: settled.picks, failures: course.failures, tunnels };
  const keptBy = (owner: string): readonly ProbeRequest[] => course.keptBy(owner);
  const memory = remembers
    ? {
        converse: conversing(course, world),
        goingOn: goingOnIn(course, world),
        keptBy,
        upkeep: upkeepOf(course),
        toldApart: portsToldApart(networks),
        tellsSourcePorts: tellsSourcePorts(networks),
      }
    : {};
  return new Evaluation(network, createProver, { down, gone: new Set(), moment: { world, standing, ...memory } });
}

const upkeeps = new WeakMap<Course, Upkeep>();

function upkeepOf(course: Course): Upkeep {
  const upkeep = upkeeps.get(course) ?? new Upkeep();
  upkeeps.set(course, upkeep);
  return upkeep;
}

function conversing(course: Course, world: World) {
  const known = new Map<string, { readonly atMs: number; readonly conversed: Conversed }>();
  return (asked: Conversing, watch: Watching): Conversed => {
    const key = `${asked.owner ?? ""} ${keyOf(asked.request)}`;
    const before = known.get(key);
    if (before?.atMs === course.nowMs) return before.conversed;
    const conversed = conversedOf(course, world, asked, watch);
    known.set(key, { atMs: course.nowMs, conversed });
    return conversed;
  };
}

/** In every outcome of its way; once a moment, since it is used by being asked. */
function goingOnIn(course: Course, world: World) {
  const known = new Map<string, { readonly atMs: number; readonly found: readonly GoingOn[] }>();
  return (request: ProbeRequest, owner: string, watch: Watching): readonly GoingOn[] => {
    const key = `${owner} ${keyOf(request)}`;
    const before = known.get(key);
    if (before?.atMs === course.nowMs) return before.found;
    const { setting } = course;
    const conversation = course.conversation(keyOf(request), request, owner);
    conversation.begin(setting.nowMs);
    const { runs } = eachOutcome(world, (picks) => conversation.useOpen(setting, { ...watch, picks }));
    const found = runs.flatMap(({ run: { open }, picks }) => (open === undefined ? [] : [{ ...open, picks }]));
    known.set(key, { atMs: course.nowMs, found });
    return found;
  };
}

/** Under every option of what its way leaves open; what is remembered is left behind by the first. */
function conversedOf(course: Course, world: World, { request, fresh, owner }: Conversing, watch: Watching): Conversed {
  const { setting } = course;
  const conversation = course.conversation(keyOf(request), request, owner);
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
  const isSteady = !conversation.hasOpen || outcomes.every(({ result }) => isHeard(result));
  return { exchange: isOfPlan ? fresh : exchange, isPassing, isSteady };
}

/** Whether an exchange comes to its end, and where it comes to, in all of its outcomes. */
function wordOf({ outcomes }: Exchange): string {
  const words = outcomes.map(({ result }) => {
    return [isHeard(result), ...result.outcome.arrivals.map(({ device }) => device)].join(" ");
  });
  return [...new Set(words)].sort().join("; ");
}

function isHeard({ outcome: { end }, stalls }: ProbeResult): boolean {
  return end === "answered" && stalls !== true;
}
