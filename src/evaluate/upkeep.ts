/**
 * What hosts have open for an assertion, from one moment of a site over time to the next: one of them stands as long as nothing changes
 * of what it looked at, by its own footprint. The verdict that it is open for may be asked anew at every change of the site, since
 * reasons are told with it; the connections need not be made again by that.
 *
 * Only what is answered is kept, or what is not while nothing is open. Where something is open and nothing new is answered, time alone
 * may make it another; so it may what rests on what devices will not remember for long.
 */
import type { ProbeRequest } from "../simulate/index.ts";
import { keyOf } from "./exchange.ts";
import type { Footprint } from "./footprint.ts";

/** What tells what a change touches. */
export type Touching = {
  /** Whether something of a footprint is not what it was. */
  readonly meet: (footprint: Footprint) => boolean;
};

/** All that is open at one site. */
export class Upkeep {
  readonly #kept = new Map<string, Footprint>();
  readonly #gotThrough = new Set<string>();

  /** Something got through against what somebody wants, at this moment. */
  noteThrough(owner: string): void {
    this.#gotThrough.add(owner);
  }

  /** Whether something got through against what somebody wants, at some moment up to now. */
  hasGotThrough(owner: string): boolean {
    return this.#gotThrough.has(owner);
  }

  /** What one looked at that nothing has touched since it was kept; undefined: it must be asked. */
  of(request: ProbeRequest, owner: string): Footprint | undefined {
    return this.#kept.get(wordOf(request, owner));
  }

  /** It is so from now on, until something of that changes; undefined: it must be asked each time. */
  keep(request: ProbeRequest, owner: string, footprint: Footprint | undefined): void {
    const word = wordOf(request, owner);
    if (footprint === undefined || footprint.passing) this.#kept.delete(word);
    else this.#kept.set(word, footprint);
  }

  /** The site is another one now: what that touches must be asked. */
  outdate(changes: Touching): void {
    for (const [word, footprint] of this.#kept) if (changes.meet(footprint)) this.#kept.delete(word);
  }
}

function wordOf(request: ProbeRequest, owner: string): string {
  return `${owner} ${keyOf(request)}`;
}
