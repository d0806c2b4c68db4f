/**
 * Clients that wait for a lease or an advertisement, each asking once, in document order. A client that failed because
 * somebody on the way had no address yet asks again once others have theirs.
 */
import type { Awaits, Binding, Choice, Id, Network, Settled, Undelegated } from "../network/index.ts";
import { withBindings, withoutDelegated } from "../settle/index.ts";
import { advertisedBindings } from "./advertisements.ts";
import { askForPrefixes, withoutWritten } from "./delegations.ts";
import { LeaseRun } from "./lease-run.ts";
import { need } from "./plan.ts";
import type { BindingFailure, Bindings, SimulationOptions } from "./results.ts";
import { LIMIT_EVENTS, newWorld } from "./run-world.ts";

/**
 * What every waiting client gets, in document order: messages are real frames that bridges, filters and relays may stop. Routers ask for
 * their prefixes first, unless the site tells which of them did not come. `lacked`: prefixes that had not come before something failed;
 * where nobody can be asked any more, they are as little there. Default: whoever cannot ask has its prefix from before.
 */
export function acquireBindings(
  network: Network,
  settled: Settled,
  options: SimulationOptions = {},
  lacked: readonly Undelegated[] = [],
): Bindings {
  const undelegated = settled.undelegated ?? prefixesLost(network, settled, options, lacked);
  const site = withoutDelegated(network, settled, undelegated);
  const advertised = advertisedBindings(network, site, options);
  const first = leasesUnder(network, site, options, undefined);
  const isStuck = first.stuck.size > 0 && first.bindings.length > 0;
  const leases = isStuck ? again(network, site, options, first) : first;
  return {
    bindings: [...leases.bindings, ...advertised.bindings],
    choices: [...leases.choices, ...advertised.choices],
    // What was written and did not come is told before what might have come besides.
    failures: [...leases.failures, ...withoutWritten(network, undelegated), ...advertised.failures],
    undelegated,
  };
}

function prefixesLost(
  network: Network,
  settled: Settled,
  options: SimulationOptions,
  lacked: readonly Undelegated[],
): readonly Undelegated[] {
  const { lost, cut } = askForPrefixes(network, settled, options);
  const isCut = (id: Id): boolean => cut.some((each) => each.interface === id);
  return [...lost, ...lacked.filter((lack) => isCut(lack.interface))];
}

type Round = {
  readonly bindings: readonly Binding[];
  readonly choices: readonly Choice[];
  readonly failures: readonly BindingFailure[];
  /** Interfaces of clients that failed though their link is up: no address of others raises a link. */
  readonly stuck: ReadonlySet<Id>;
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
  const bindings: Binding[] = [];
  const choices: Choice[] = [];
  const failures: BindingFailure[] = [];
  const stuck = new Set<Id>();
  for (const { id, awaits } of clientsOf(network)) {
    if (earlier?.stuck.has(id) === false) continue;
    const leg = need(world.plan.interfaces, id, "interface");
    const result = run.ask(leg, awaits);
    if ("failure" in result) {
      failures.push(result.failure);
      if (leg.up) stuck.add(id);
    } else {
      bindings.push(result.binding);
      if (result.choice !== undefined) choices.push(result.choice);
    }
  }
  return { bindings, choices, failures, stuck, run };
}

/** Those that are stuck ask again, with the addresses of the others in place. */
function again(network: Network, settled: Settled, options: SimulationOptions, first: Round): Round {
  const second = leasesUnder(network, withBindings(network, settled, first.bindings), options, first);
  const later = new Map(second.failures.map((failure) => [failure.interface, failure]));
  return {
    bindings: [...first.bindings, ...second.bindings],
    choices: [...first.choices, ...second.choices],
    failures: first.failures.flatMap((failure) =>
      first.stuck.has(failure.interface) ? (later.get(failure.interface) ?? []) : failure,
    ),
    stuck: second.stuck,
    run: second.run,
  };
}

/** Interfaces that wait for a lease, in document order. */
export function clientsOf(network: Network): { readonly id: Id; readonly awaits: Awaits }[] {
  return network.stacks.flatMap((stack) =>
    stack.interfaces.flatMap(({ id, awaits: all }) => {
      const awaits = all.find(({ from }) => from === "lease");
      return awaits === undefined ? [] : [{ id, awaits }];
    }),
  );
}
