/**
 * The engine's surroundings put together, and events made to happen.
 */
import { type Network, NO_NOTES, type Settled } from "../network/index.ts";
import { planOf } from "./build-plan.ts";
import { EventQueue } from "./event-queue.ts";
import { newJournal } from "./journal.ts";
import { emitFrom } from "./link-layer.ts";
import { PickBook } from "./picks.ts";
import type { Plan } from "./plan.ts";
import type { SimulationOptions } from "./results.ts";
import { giveUpPassage, resumePassage, sendPacket } from "./stack.ts";
import { takeIn } from "./station.ts";
import { placeOf } from "./stations.ts";
import type { World } from "./world.ts";

/** Events of one question after which it is given up as looping, unless the question says otherwise. */
export const LIMIT_EVENTS = 1_000_000;

/** A site at rest with nothing learned, at time 0. */
export function newWorld(network: Network, settled: Settled, options: SimulationOptions): World {
  return worldOn(planOf(network, settled), settled, options);
}

/** The same where its plan is known. */
export function worldOn(plan: Plan, settled: Settled, options: SimulationOptions): World {
  const picks = [...settled.picks, ...(options.picks ?? [])];
  const world: World = {
    plan,
    picks: new PickBook(picks, settled.choices),
    capture: options.capture,
    standIns: options.standIns ?? [],
    queue: new EventQueue(),
    notes: options.notes ?? NO_NOTES,
    tally: options.tally ?? { events: 0 },
    tables: new Map(),
    findStation: (bridge, vlan, hardware) =>
      options.learned === true ? placeOf(plan, bridge, vlan, hardware) : undefined,
    forgets: options.forgets === true,
    memories: new Map(),
    journal: newJournal(),
    nowUs: 0,
    watcher: undefined,
    control: undefined,
    answersLate: false,
    identification: 0,
    emit: (leg, frame, flight) => emitFrom(world, leg, frame, flight),
    takeIn: (leg, frame, flight) => takeIn(world, leg, frame, flight),
    send: (order) => {
      const { descent } = order.journey;
      if (!world.answersLate || (descent !== "answer" && descent !== "error")) sendPacket(world, order);
    },
    resume: (passage) => resumePassage(world, passage),
    giveUp: (passage, asked) => giveUpPassage(world, passage, asked),
  };
  return world;
}

/** Lets events happen until none is left, `isOver` says so, or there were too many. */
export function runWorld(world: World, limitEvents: number, isOver?: () => boolean): void {
  for (let events = 0; events < limitEvents && isOver?.() !== true; events++) {
    const event = world.queue.next();
    if (event === undefined) return;
    world.nowUs = Math.max(world.nowUs, event.atUs);
    world.tally.events++;
    event.run();
  }
  world.queue.clear();
}
