/**
 * Clients that wait for a lease or an advertisement, each asking once, in document order. A client that failed because
 * somebody on the way had no address yet asks again once others have theirs.
 */
import type { Awaits, Binding, Choice, Network, Settled } from "../network/index.ts";
import { withBindings } from "../settle/index.ts";
import { advertisedBindings } from "./advertisements.ts";
import { LeaseRun } from "./lease-run.ts";
import { need } from "./plan.ts";
import type { BindingFailure, Bindings, SimulationOptions } from "./results.ts";
import { LIMIT_EVENTS, newWorld } from "./run-world.ts";

/** What every waiting client gets, in document order: messages are real frames that bridges, filters and relays may stop. */
export function acquireBindings(network: Network, settled: Settled, options: SimulationOptions = {}): Bindings {
  const advertised = advertisedBindings(network, settled, options);
  const first = leasesUnder(network, settled, options, undefined);
  const isStuck = first.failures.length > 0 && first.bindings.length > 0;
  const leases = isStuck ? again(network, settled, options, first) : first;
  return {
    bindings: [...leases.bindings, ...advertised.bindings],
    choices: leases.choices,
    failures: [...leases.failures, ...advertised.failures],
  };
}

type Round = {
  readonly bindings: readonly Binding[];
  readonly choices: readonly Choice[];
  readonly failures: readonly BindingFailure[];
  readonly run: LeaseRun;
};

/** One round: all clients, or those that failed in an earlier one, against the servers' memory of it. */
function leasesUnder(
  network: Network,
  settled: Settled,
  options: SimulationOptions,
  earlier: Round | undefined,
): Round {
  const world = newWorld(network, settled, options);
  const run = new LeaseRun(world, options.limitEvents ?? LIMIT_EVENTS);
  if (earlier !== undefined) run.players.adopt(earlier.run.players);
  const only = earlier && new Set(earlier.failures.map((failure) => failure.interface));
  const bindings: Binding[] = [];
  const choices: Choice[] = [];
  const failures: BindingFailure[] = [];
  for (const { id, awaits } of clientsOf(network)) {
    if (only?.has(id) === false) continue;
    const result = run.ask(need(world.plan.interfaces, id, "interface"), awaits);
    if ("failure" in result) failures.push(result.failure);
    else {
      bindings.push(result.binding);
      if (result.choice !== undefined) choices.push(result.choice);
    }
  }
  return { bindings, choices, failures, run };
}

/** Those that failed ask again, with the addresses of the others in place. */
function again(network: Network, settled: Settled, options: SimulationOptions, first: Round): Round {
  const second = leasesUnder(network, withBindings(network, settled, first.bindings), options, first);
  return {
    bindings: [...first.bindings, ...second.bindings],
    choices: [...first.choices, ...second.choices],
    failures: second.failures,
    run: second.run,
  };
}

function clientsOf(network: Network): { readonly id: string; readonly awaits: Awaits }[] {
  return network.stacks.flatMap((stack) =>
    stack.interfaces.flatMap(({ id, awaits: all }) => {
      const awaits = all.find(({ from }) => from === "lease");
      return awaits === undefined ? [] : [{ id, awaits }];
    }),
  );
}
