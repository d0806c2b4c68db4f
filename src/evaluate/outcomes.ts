/**
 * All outcomes of one exchange: the simulator is run once, then again for every other option of each choice it met
 * on the way (equal paths, bond members), depth first. Choices that the exchange never meets are not multiplied.
 */
import type { Network, Pick } from "../network/index.ts";
import { createSimulation, type ProbeRequest } from "../simulate/index.ts";
import { alternatives } from "./alternatives.ts";
import type { Exchange, Watching } from "./exchange.ts";
import type { World } from "./worlds.ts";

/** More runs of one exchange than this are not made. */
const OUTCOME_LIMIT = 256;

/** Every outcome of an exchange in one world, each captured where that is asked for; `limit` is set when some were left out. */
export function outcomesOf(network: Network, world: World, request: ProbeRequest, watch: Watching = {}): Exchange {
  const { runs, limit } = eachOutcome(world, (picks) =>
    createSimulation(network, world.settled, { ...watch, picks }).probe(request),
  );
  const outcomes = runs.map(({ run, picks }) => ({ result: run, picks }));
  return limit === undefined ? { outcomes } : { outcomes, limit };
}

/** What is done once for every option of each choice that it meets. */
type Outcomes<Run> = {
  readonly runs: readonly { readonly run: Run; readonly picks: readonly Pick[] }[];
  readonly limit?: string;
};

/** Runs something under every option of each choice that it meets in a world. */
export function eachOutcome<Run extends { readonly picksUsed: readonly Pick[] }>(
  world: World,
  runUnder: (picks: readonly Pick[]) => Run,
): Outcomes<Run> {
  const open = new Map(world.settled.choices.map((choice) => [choice.id, choice.options]));
  const runs: { readonly run: Run; readonly picks: readonly Pick[] }[] = [];
  const pending: (readonly Pick[])[] = [[]];
  while (pending.length > 0 && runs.length < OUTCOME_LIMIT) {
    const fixed = pending.shift() ?? [];
    const run = runUnder([...world.picks, ...fixed]);
    const used = run.picksUsed.filter((pick) => open.has(pick.choice));
    runs.push({ run, picks: [...world.picks, ...used] });
    pending.unshift(...alternatives(used, fixed, open));
  }
  return pending.length === 0 ? { runs } : { runs, limit: `more than ${OUTCOME_LIMIT} ways through what is left open` };
}
