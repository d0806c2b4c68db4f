/**
 * Worlds: what the site can become, one for every combination of what the documents leave open (which access point,
 * which habit of an unmanaged switch, which server answers). An assertion must hold in all of them.
 *
 * A world is found by settling the links, then letting the clients take their leases in the simulator: leases are
 * exchanges of packets, so the one description of forwarding decides them too, and so is whether a host's routers answer. Tunnels
 * then come up the same way, and all is asked again with them, until no more do. Choices that appear under a pick
 * (a server that only one access point reaches) are followed, too; the number of worlds is bounded.
 */
import { isAlike } from "../diagnose/index.ts";
import { type Choice, deviceOf, type Id, type Network, type Pick, type Settled } from "../network/index.ts";
import { routerChoice, type Standing, settle, withBindings, withoutDelegated } from "../settle/index.ts";
import {
  acquireBindings,
  type BindingFailure,
  type Bindings,
  type ProbeRequest,
  type Tally,
  type TunnelFailure,
  withRouters,
  withTunnels,
} from "../simulate/index.ts";
import { alternatives } from "./alternatives.ts";
import { directoryOf } from "./directory.ts";
import type { Exchange, GoingOn, Watching } from "./exchange.ts";
import { type Leases, leasesKey, noLeases } from "./leases.ts";
import type { Upkeep } from "./upkeep.ts";

/** One outcome of everything that is open at rest. */
export type World = {
  /** The site at rest, leases included. */
  readonly settled: Settled;
  /** The picks that lead here; empty when nothing was open. */
  readonly picks: readonly Pick[];
  /** Clients that got no lease. */
  readonly failures: readonly BindingFailure[];
  /** Tunnels that are not up. */
  readonly tunnels: readonly TunnelFailure[];
};

/** Every world, or the limit that kept some away. */
export type Worlds = {
  /** The usual one first, then by how many options are others; at least one. */
  readonly worlds: readonly World[];
  /** Set when there are more worlds than the limit: verdicts that would pass are undecided. */
  readonly limit?: string;
};

/** More combinations than this are not followed. */
const WORLD_LIMIT = 64;

const OPEN_AT_REST: ReadonlySet<Choice["kind"]> = new Set([
  "access-point",
  "unmanaged-habit",
  "lease-server",
  "advertiser",
  "router",
]);

/** What worlds have in common. */
export type Sharing = {
  /** Counts the events of their leases. */
  readonly tally?: Tally;
  /**
   * What clients are lent where it is known, and is told what they are lent and what that and the outer packets of tunnels look
   * at. Default: all of them ask, and nobody is told.
   */
  readonly leases?: Leases;
  /** Another world of the network: stacks that are alike in both are kept once. */
  readonly like?: World | undefined;
};

type Watch = Required<Omit<Sharing, "like">>;

/** The day on which a site is settled. */
export type Day = {
  /** On-demand links that are raised. */
  readonly up: readonly Id[];
  /** Failed links, fates and devices. */
  readonly down: readonly Id[];
  /** What the site was before they failed, under these picks. Default: everything starts at once. */
  readonly before?: (picks: readonly Pick[]) => Settled | undefined;
  /** A moment of a site over time, in place of what it comes to. Default: it is left alone. */
  readonly moment?: Moment;
};

/** How a site stands at one moment. */
export type Moment = {
  /** What it is without further links raised. */
  readonly world: World;
  /** Its links. */
  readonly standing: Standing;
  /** How an exchange ends with what devices remember then. Default: as where they remember nothing. */
  readonly converse?: (asked: Conversing, watch: Watching) => Conversed;
  /** Whether what somebody has open goes on then, in every outcome of its way. Default: nothing is remembered. */
  readonly goingOn?: (request: ProbeRequest, owner: string, watch: Watching) => readonly GoingOn[];
  /** What somebody has conversed of for himself. Default: nothing is remembered. */
  readonly keptBy?: (owner: string) => readonly ProbeRequest[];
  /** What goes on from one moment to the next by itself. Default: nothing is remembered. */
  readonly upkeep?: Upkeep;
  /** Ports that rules of the site tell apart at some time, in order. Default: none. */
  readonly toldApart?: readonly bigint[];
  /** Rules of the site look at source ports at some time. Default: they do not. */
  readonly tellsSourcePorts?: boolean;
};

/** An exchange that is made again and again. */
export type Conversing = {
  /** It. */
  readonly request: ProbeRequest;
  /** How it ends where nothing is remembered. */
  readonly fresh: Exchange;
  /** Who makes it for himself, so that nobody else's tries count. Default: all who ask the same. */
  readonly owner?: string;
};

/** An exchange at a moment. */
export type Conversed = {
  /** With what devices remember then. */
  readonly exchange: Exchange;
  /** It would end otherwise if they remembered nothing. */
  readonly isPassing: boolean;
  /** It goes on as it is while nothing of what it looked at changes. */
  readonly isSteady: boolean;
};

/** All worlds with these on-demand links raised and these parts failed. */
export function worldsOf(
  network: Network,
  conditions: Day,
  { tally = { events: 0 }, like, leases = noLeases() }: Sharing = {},
): Worlds {
  const { moment, up } = conditions;
  if (moment !== undefined)
    return { worlds: [up.length === 0 ? moment.world : raisedAt(network, conditions, moment, tally)] };
  const worlds: World[] = [];
  const watch = { tally, leases };
  // Worlds with fewer options other than the usual ones come first.
  const pending: (readonly Pick[])[] = [[]];
  while (pending.length > 0 && worlds.length < WORLD_LIMIT) {
    const fixed = pending.shift() ?? [];
    const { world, choices } = usualWorld(network, conditions, fixed, watch);
    worlds.push(withStacksOf(like ?? worlds[0], world));
    pending.push(...alternatives(world.picks, fixed, new Map(choices.map(({ id, options }) => [id, options]))));
  }
  return pending.length === 0
    ? { worlds }
    : { worlds, limit: `more than ${WORLD_LIMIT} combinations of what is left open` };
}

/** The same world, made of the other one's stacks where they are alike: whoever keeps something for a stack keeps it once. */
function withStacksOf(other: World | undefined, world: World): World {
  if (other === undefined) return world;
  const stacks = world.settled.stacks.map((stack, index) => {
    const known = other.settled.stacks[index];
    return known !== undefined && isAlike(known, stack) ? known : stack;
  });
  return { ...world, settled: { ...world.settled, stacks } };
}

/** A moment with further links raised: whoever comes by them asks now, others hold what they hold. */
function raisedAt(network: Network, { up, down }: Day, { world, standing }: Moment, tally: Tally): World {
  const { picks } = world;
  // Who holds a prefix by then has it, whatever would become of asking.
  const { undelegated = [] } = world.settled;
  const links = {
    ...withoutDelegated(network, settle(network, { down, up, picks, standing }), undelegated),
    undelegated,
  };
  const fresh = acquireBindings(network, links, { picks, tally });
  const { devices } = directoryOf(network);
  const isGuest = (id: Id): boolean => devices.get(deviceOf(id))?.standIn === true;
  const bindings = [
    ...world.settled.bindings.filter((binding) => !isGuest(binding.interface)),
    ...fresh.bindings.filter((binding) => isGuest(binding.interface)),
  ];
  const failures = [
    ...world.failures.filter((failure) => !isGuest(failure.interface)),
    ...fresh.failures.filter((failure) => isGuest(failure.interface)),
  ];
  // Who comes now has given up no router yet.
  const over = new Set(world.settled.givenUp.map((router) => routerChoice(router).id));
  const settled = withRouters(network, withBindings(network, links, bindings), { picks, tally }, over);
  return { ...world, settled, failures };
}

/** The world under some picks, with the usual option of everything else that is open there. */
function usualWorld(
  network: Network,
  conditions: Day,
  fixed: readonly Pick[],
  watch: Watch,
): { readonly world: World; readonly choices: readonly Choice[] } {
  for (let picks = fixed; ; ) {
    const found = worldUnder(network, conditions, picks, watch);
    const open = found.choices.filter((choice) => isOpen(choice, picks, conditions));
    if (open.length === 0) return found;
    picks = [...picks, ...open.flatMap(({ id, options: [usual] }) => (usual ? [{ choice: id, option: usual }] : []))];
  }
}

function isOpen({ id, kind, options }: Choice, picks: readonly Pick[], { before }: Day): boolean {
  // After a failure hosts have had the time to find out which routers are silent.
  if (kind === "router" && before !== undefined) return false;
  return OPEN_AT_REST.has(kind) && options.length > 1 && !picks.some((pick) => pick.choice === id);
}

function worldUnder(
  network: Network,
  conditions: Day,
  picks: readonly Pick[],
  { tally, leases: { looked, found } }: Watch,
): { readonly world: World; readonly choices: readonly Choice[] } {
  const { down, up } = conditions;
  const options = { tally, notes: looked, picks };
  const { at, failures } = withTunnels(network, up, settleWith, options);
  return {
    world: { settled: at.settled, picks, failures: at.leases.failures, tunnels: failures },
    choices: [...at.settled.choices, ...at.leases.choices],
  };

  function settleWith(raised: readonly Id[]): { readonly settled: Settled; readonly leases: Bindings } {
    const before = conditions.before?.(picks);
    const links = settle(network, { down, up: raised, picks, ...(before === undefined ? {} : { before }) });
    const key = leasesKey(raised, picks);
    const leases = found.get(key) ?? acquireBindings(network, links, options, before?.undelegated);
    found.set(key, leases);
    const lent = withBindings(network, withoutDelegated(network, links, leases.undelegated), leases.bindings);
    return { settled: withRouters(network, lent, options), leases };
  }
}
