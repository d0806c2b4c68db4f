/**
 * All outcomes of one exchange: the simulator is run once, then again for every other option of each choice it met
 * on the way (equal paths, bond members), depth first. Choices that the exchange never meets are not multiplied.
 */
import type { Choice, Network, Notes, Pick } from "../network/index.ts";
import {
  type CaptureSink,
  createSimulation,
  type ProbeRequest,
  type ProbeResult,
  type Tally,
} from "../simulate/index.ts";
import type { World } from "./worlds.ts";

/** One run of an exchange with the picks it was made under. */
export type Outcome = {
  /** How it went. */
  readonly result: ProbeResult;
  /** Picks at rest and on the way. */
  readonly picks: readonly Pick[];
};

/** Who looks on. */
export type Watching = {
  /** Gets the frames. */
  readonly capture?: CaptureSink;
  /** Counts events. */
  readonly tally?: Tally;
  /** Is told what is looked at. */
  readonly notes?: Notes;
};

/** More runs of one exchange than this are not made. */
const OUTCOME_LIMIT = 256;

/** Every outcome of an exchange in one world, each captured where that is asked for; `limit` is set when some were left out. */
export function outcomesOf(
  network: Network,
  world: World,
  request: ProbeRequest,
  watch: Watching = {},
): { readonly outcomes: readonly Outcome[]; readonly limit?: string } {
  const open = new Map(world.settled.choices.map((choice) => [choice.id, choice.options]));
  const outcomes: Outcome[] = [];
  const pending: (readonly Pick[])[] = [[]];
  while (pending.length > 0 && outcomes.length < OUTCOME_LIMIT) {
    const fixed = pending.shift() ?? [];
    const picks = [...world.picks, ...fixed];
    const result = createSimulation(network, world.settled, { ...watch, picks }).probe(request);
    const used = result.picksUsed.filter((pick) => open.has(pick.choice));
    outcomes.push({ result, picks: [...world.picks, ...used] });
    pending.unshift(...alternatives(used, fixed, open));
  }
  return pending.length === 0
    ? { outcomes }
    : { outcomes, limit: `more than ${OUTCOME_LIMIT} ways through what is left open` };
}

/** The picks to try next: each choice met beyond the fixed ones, with every option not yet taken. */
function alternatives(
  used: readonly Pick[],
  fixed: readonly Pick[],
  options: ReadonlyMap<string, Choice["options"]>,
): (readonly Pick[])[] {
  return used.flatMap((pick, index) => {
    if (fixed.some((earlier) => earlier.choice === pick.choice)) return [];
    const before = used.slice(0, index);
    const others = (options.get(pick.choice) ?? []).filter((option) => option !== pick.option);
    return others.map((option) => [...before, { choice: pick.choice, option }]);
  });
}
