/**
 * The common ground: what every verdict about a site may rest on, whatever it looked at. Where it changes, or what rules are
 * called (`hasSameNames`), everything is asked again; where resolvers give other addresses for names (`namesGiven`), whatever asked for those.
 */
import type { Moves } from "../diagnose/index.ts";
import { type Id, internetAddresses, type Network, type Settled } from "../network/index.ts";
import { namesOf } from "../result/index.ts";
import { directoryOf } from "./directory.ts";
import type { Evaluation } from "./evaluation.ts";
import type { Worlds } from "./worlds.ts";

/** The common ground of a site under some on-demand links, as plain values. */
export function commonGroundOf(evaluation: Evaluation, { worlds, limit }: Worlds): unknown {
  const { network } = evaluation;
  return {
    limit,
    worlds: worlds.map((world) => [world.picks, isCertain(world.settled), evaluation.commonOf(world)]),
    delegated: directoryOf(network).delegated,
    internet: internetAddresses(network),
  };
}

/** The same of a world with something plugged in. */
export function pluggedGroundOf({ settled, common }: { readonly settled: Settled; readonly common: unknown }): unknown {
  return [isCertain(settled), common];
}

/** Whether floods are the same for all frames, so that the simulator may shorten them. */
function isCertain({ storms, choices }: Settled): boolean {
  return storms.length === 0 && !choices.some(({ kind }) => kind === "bond-member");
}

/** What resolvers give for which names and whom they ask for others, with the addresses that clients may know them by: a name may have any of their records. */
export function namesGiven({ services, stacks }: Network): unknown {
  const resolving = services.filter((service) => service.kind === "resolve");
  const standing: ReadonlySet<Id> = new Set(resolving.map(({ stack }) => stack));
  const addresses = stacks.flatMap(({ id, interfaces }) =>
    standing.has(id) ? interfaces.map((leg) => [leg.id, leg.addresses]) : [],
  );
  const given = resolving.map(({ stack, records, lent, forward }) => [
    stack,
    records.map(({ name, address }) => [name, address]),
    lent.map(({ name }) => name),
    forward,
  ]);
  return [given, addresses];
}

/** Whether rules that stood in the texts before are called what they were. */
export function hasSameNames(before: Network, after: Network, moves: Moves): boolean {
  const now = namesOf(after);
  return [...namesOf(before)].every(([key, name]) => {
    const [file = 0, start = 0, end = 0] = key.split(":").map(Number);
    const moved = moves({ file, start, end });
    return moved === undefined || (now.get(`${moved.file}:${moved.start}:${moved.end}`) ?? name) === name;
  });
}
