/**
 * Which routers of hosts answer is a matter of frames: each is asked for on its link, by the rules of both ends. Where one is
 * silent and the host has another way, what the host knows of it is a choice (`settle/routers.ts`).
 */
import type { Choice, Id, Network, Router, Settled } from "../network/index.ts";
import { isGivenUp, routerChoice, routersWithOthers, withRoutersGivenUp } from "../settle/index.ts";
import { neighbourEntry } from "./memory.ts";
import { lookForNeighbour } from "./neighbour-cache.ts";
import { need } from "./plan.ts";
import type { SimulationOptions } from "./results.ts";
import { LIMIT_EVENTS, newWorld, runWorld } from "./run-world.ts";

/**
 * The site with its hosts' routers asked for, and with those that are given up gone from the routes of who gave them up.
 * `over`: ids of the choices about those that are. Default: the picks say it.
 */
export function withRouters(
  network: Network,
  settled: Settled,
  options: SimulationOptions = {},
  over?: ReadonlySet<Id>,
): Settled {
  const asked = routersWithOthers(network, settled);
  if (asked.length === 0) return settled;
  const silent = silentOf(network, settled, asked, options);
  if (silent.length === 0) return settled;
  const opinions = silent.map((router) => ({ router, choice: routerChoice(router) }));
  const isOver = (choice: Choice): boolean => over?.has(choice.id) ?? isGivenUp(choice, options.picks ?? []);
  const givenUp = opinions.filter(({ choice }) => isOver(choice)).map(({ router }) => router);
  const choices = [...settled.choices, ...opinions.map(({ choice }) => choice)];
  return withRoutersGivenUp(network, { ...settled, choices: choices.sort((a, b) => (a.id < b.id ? -1 : 1)) }, givenUp);
}

function silentOf(
  network: Network,
  settled: Settled,
  asked: readonly Router[],
  options: SimulationOptions,
): readonly Router[] {
  const world = newWorld(network, settled, options);
  return asked.filter(({ interface: id, via }) => {
    const leg = need(world.plan.interfaces, id, "interface");
    const address = { family: 6, value: via } as const;
    lookForNeighbour(world, leg, address);
    runWorld(world, options.limitEvents ?? LIMIT_EVENTS);
    return neighbourEntry(world, leg, address).state.state !== "known";
  });
}
