/**
 * Routers of hosts that do not answer, over time: a host goes on sending to one until unreachability detection tells it that nobody
 * is there (RFC 4861 section 7.3.3), and then sends by another one. One that answers again is used at once.
 *
 * Every host counts as finding out as late as the standard lets one that keeps sending: it was answered right before, and waits
 * for REACHABLE_TIME, DELAY_FIRST_PROBE_TIME and three probes (section 10). One that never knew its router finds out after the three
 * probes alone; that time is an upper bound for it. It is counted from when the router is silent and the host has another way.
 */
import type { Id, Pick, Settled } from "../../network/index.ts";
import { earliest, NEIGHBOUR_SETTINGS } from "../../protocol/index.ts";
import { isGivenUp } from "../../settle/index.ts";

/** So long after its last answer a router is given up at the latest. */
const GIVING_UP_MS = NEIGHBOUR_SETTINGS.reachableMs + NEIGHBOUR_SETTINGS.staleMs;

/** Since when which routers of hosts have been silent. */
export class SilentRouters {
  readonly #picks: readonly Pick[];
  /** By choice when it is given up. */
  #overMs: ReadonlyMap<Id, number> = new Map();

  /** Under these picks; a router that they say is not tried is never given up. */
  constructor(picks: readonly Pick[]) {
    this.#picks = picks;
  }

  /** When the next one is given up after `nowMs`; undefined: none is. */
  wakeMs(nowMs: number): number | undefined {
    return earliest(...[...this.#overMs.values()].filter((overMs) => overMs > nowMs));
  }

  /** Ids of the choices about those that are given up by now. */
  givenUpAt(nowMs: number): ReadonlySet<Id> {
    return new Set([...this.#overMs].flatMap(([choice, overMs]) => (overMs <= nowMs ? [choice] : [])));
  }

  /** The site is this one now: a router that answers, or whose host is off, is forgotten. */
  enter({ choices }: Settled, nowMs: number): void {
    const silent = choices.filter((choice) => choice.kind === "router" && isGivenUp(choice, this.#picks));
    this.#overMs = new Map(silent.map(({ id }) => [id, this.#overMs.get(id) ?? nowMs + GIVING_UP_MS]));
  }
}
