/**
 * Routers of hosts that do not answer, over time: a host goes on sending to one until unreachability detection tells it that nobody
 * is there (RFC 4861 section 7.3.3), and then sends by another one. One that answers again is used at once.
 *
 * Every host counts as one that keeps sending and was answered right before its router fell silent: it waits for its ReachableTime,
 * DELAY_FIRST_PROBE_TIME and three probes (section 10). ReachableTime is drawn at random, from 0.5 to 1.5 times REACHABLE_TIME where
 * no router tells another one (section 6.3.2): such a host finds out after 23 to 53 s. Here everyone takes the middle, 38 s. Whether
 * it has another way does not matter to that: one that comes later is taken at once (section 6.3.6). A router that comes after
 * another one is not probed before it is needed ("if no traffic is sent to a neighbor, no probes are sent"): from then on it takes
 * the delay and the probes. One that nobody ever knew is found out by three probes alone; these times are more than it takes.
 */
import type { Choice, Id, Network, Pick, Route, Settled } from "../../network/index.ts";
import { earliest, NEIGHBOUR_SETTINGS } from "../../protocol/index.ts";
import { isGivenUp, routerChoice } from "../../settle/index.ts";
import type { SimulationOptions } from "../results.ts";
import { withRouters } from "../routers.ts";

const { reachableMs: REACHABLE_MS, staleMs: DOUBTED_MS } = NEIGHBOUR_SETTINGS;

/** A router that does not answer. */
type Silence = {
  /** Since when. */
  readonly sinceMs: number;
  /** Since when its host sends to it meanwhile. Absent: the host has a better one. */
  readonly neededMs?: number;
};

/** Since when which routers of hosts have been silent. */
export class SilentRouters {
  readonly #picks: readonly Pick[];
  /** By the choice about it. */
  #silences: ReadonlyMap<Id, Silence> = new Map();
  /** Choices about those in place of which there is another one. */
  #open: ReadonlySet<Id> = new Set();

  /** Under these picks; a router that they say is not tried is never given up. */
  constructor(picks: readonly Pick[]) {
    this.#picks = picks;
  }

  /** When the next one is given up after `nowMs`; undefined: none is. */
  wakeMs(nowMs: number): number | undefined {
    const open = [...this.#silences].filter(([id]) => this.#open.has(id));
    return earliest(...open.map(([, silence]) => overMs(silence)).filter((atMs) => atMs > nowMs));
  }

  /** Ids of the choices about those that are given up by now. */
  givenUpAt(nowMs: number): ReadonlySet<Id> {
    return new Set([...this.#silences].flatMap(([id, silence]) => (overMs(silence) <= nowMs ? [id] : [])));
  }

  /** Ids of the choices about those that their hosts have tried in vain by now; others that count as given up were never sent to. */
  triedAt(nowMs: number): ReadonlySet<Id> {
    return new Set([...this.#silences].flatMap(([id, silence]) => (isTriedBy(nowMs, silence) ? [id] : [])));
  }

  /** A word for those that are given up by now for another one. */
  wordAt(nowMs: number): string {
    return [...this.givenUpAt(nowMs)].filter((id) => this.#open.has(id)).join(" ");
  }

  /** The site is this one now: a router that answers, or whose host is off, is forgotten. */
  enter(network: Network, settled: Settled, options: SimulationOptions, nowMs: number): void {
    const open = settled.choices.filter(({ kind }) => kind === "router");
    const all = [...open, ...withoutOthers(network, settled, options)];
    const before = this.#silences;
    const silent = new Set(all.filter((choice) => isGivenUp(choice, this.#picks)).map(({ id }) => id));
    const isTried = (id: Id): boolean => silent.has(id) && isTriedBy(nowMs, before.get(id));
    const needed = new Set(settled.stacks.flatMap(({ routesBack, routes }) => neededIn(routesBack ?? routes, isTried)));
    this.#open = new Set(open.map(({ id }) => id));
    this.#silences = new Map(
      [...silent].map((id) => [id, silenceAt(before.get(id) ?? { sinceMs: nowMs }, needed.has(id), nowMs)]),
    );
  }
}

function overMs({ sinceMs, neededMs = sinceMs }: Silence): number {
  return Math.max(sinceMs + REACHABLE_MS, neededMs) + DOUBTED_MS;
}

function isTriedBy(nowMs: number, silence: Silence | undefined): boolean {
  return silence?.neededMs !== undefined && overMs(silence) <= nowMs;
}

/** Once it is doubted it is probed to the end, whether it is needed any more or not. */
function silenceAt({ sinceMs, neededMs }: Silence, isNeeded: boolean, nowMs: number): Silence {
  const isDoubted = neededMs !== undefined && Math.max(sinceMs + REACHABLE_MS, neededMs) <= nowMs;
  if (isNeeded || isDoubted) return { sinceMs, neededMs: neededMs ?? nowMs };
  return { sinceMs };
}

/** Routers that do not answer and in place of which there is no other one, each as the choice that it would be if there were. */
function withoutOthers(network: Network, settled: Settled, options: SimulationOptions): readonly Choice[] {
  const stacks = settled.stacks.map((stack) => {
    const first = stack.routes.find(({ family }) => family === 6);
    const other = first && { ...first, prefix: 0n, length: 0, action: { do: "local" } as const };
    return other === undefined ? stack : { ...stack, routes: [...stack.routes, other] };
  });
  return withRouters(network, { ...settled, stacks, choices: [] }, options, new Set()).choices;
}

/** The routers that a host sends to: of each prefix the first that was not tried in vain. */
function neededIn(routes: readonly Route[], isTried: (id: Id) => boolean): readonly Id[] {
  const served = new Set<string>();
  return routes.flatMap(({ family, prefix, length, action, origin }) => {
    const key = `${prefix}/${length}`;
    if (family === 4 || served.has(key)) return [];
    const hops = action.do === "forward" ? action.hops : [];
    const ids = hops.flatMap(({ egress, via }) =>
      via === undefined ? [] : [routerChoice({ interface: egress, via, origin }).id],
    );
    const left = ids.filter((id) => !isTried(id));
    if (ids.length === 0 || left.length > 0) served.add(key);
    return left;
  });
}
