/**
 * Worlds: what the site can become, one for every combination of what the documents leave open (which access point,
 * which habit of an unmanaged switch, which server answers). An assertion must hold in all of them.
 *
 * A world is found by settling the links, then letting the clients take their leases in the simulator: leases are
 * exchanges of packets, so the one description of forwarding decides them too. Choices that appear under a pick
 * (a server that only one access point reaches) are followed depth first, in order; the number of worlds is bounded.
 */
import type { Choice, Id, Network, Pick, Settled } from "../network/index.ts";
import { settle, withBindings } from "../settle/index.ts";
import { acquireBindings, type BindingFailure, type Tally } from "../simulate/index.ts";

/** One outcome of everything that is open at rest. */
export type World = {
  /** The site at rest, leases included. */
  readonly settled: Settled;
  /** The picks that lead here; empty when nothing was open. */
  readonly picks: readonly Pick[];
  /** Clients that got no lease. */
  readonly failures: readonly BindingFailure[];
};

/** Every world, or the limit that kept some away. */
export type Worlds = {
  /** In the order of the options; at least one. */
  readonly worlds: readonly World[];
  /** Set when there are more worlds than the limit: verdicts that would pass are undecided. */
  readonly limit?: string;
};

/** More combinations than this are not followed. */
const WORLD_LIMIT = 64;

const OPEN_AT_REST: ReadonlySet<Choice["kind"]> = new Set(["access-point", "unmanaged-habit", "lease-server"]);

/** All worlds with these on-demand links raised and these parts failed; `tally` counts the events of their leases. */
export function worldsOf(
  network: Network,
  conditions: { readonly up: readonly Id[]; readonly down: readonly Id[] },
  tally: Tally = { events: 0 },
): Worlds {
  const worlds: World[] = [];
  const pending: (readonly Pick[])[] = [[]];
  while (pending.length > 0 && worlds.length < WORLD_LIMIT) {
    const picks = pending.shift() ?? [];
    const { world, choices } = worldUnder(network, conditions, picks, tally);
    const open = choices.find((choice) => isOpen(choice, picks));
    if (open === undefined) worlds.push(world);
    else pending.unshift(...open.options.map((option) => [...picks, { choice: open.id, option }]));
  }
  return pending.length === 0
    ? { worlds }
    : { worlds, limit: `more than ${WORLD_LIMIT} combinations of what is left open` };
}

function isOpen(choice: Choice, picks: readonly Pick[]): boolean {
  return OPEN_AT_REST.has(choice.kind) && choice.options.length > 1 && !picks.some((pick) => pick.choice === choice.id);
}

function worldUnder(
  network: Network,
  conditions: { readonly up: readonly Id[]; readonly down: readonly Id[] },
  picks: readonly Pick[],
  tally: Tally,
): { readonly world: World; readonly choices: readonly Choice[] } {
  const links = settle(network, { ...conditions, picks });
  const leases = acquireBindings(network, links, { picks, tally });
  const settled = withBindings(network, links, leases.bindings);
  return {
    world: { settled, picks, failures: leases.failures },
    choices: [...settled.choices, ...leases.choices],
  };
}
