/**
 * What proves in the worlds of one network: a prover for each as it is, and for each with something plugged into some places, made when
 * it is first asked for.
 */
import type { Id, Network } from "../network/index.ts";
import { type AtRest, type Between, type Pairs, pluggedIn } from "../prove/index.ts";
import type { ProverMaker, Proving } from "./proving.ts";
import type { World } from "./worlds.ts";

/** A world with something plugged in, and what proves there. */
export type Plugged = AtRest & {
  /** What proves. */
  readonly prover: Proving;
};

/** The provers of one network. */
export class Provers {
  readonly #network: Network;
  readonly #create: ProverMaker;
  readonly #asTheyAre = new Map<World, Proving>();
  readonly #plugged = new Map<World, Map<string, Plugged | undefined>>();

  /** `create`: what makes them. */
  constructor(network: Network, create: ProverMaker) {
    this.#network = network;
    this.#create = create;
  }

  /** What proves in a world as it is. */
  in(world: World): Proving {
    const prover = this.#asTheyAre.get(world) ?? this.#create(this.#network, world.settled);
    this.#asTheyAre.set(world, prover);
    return prover;
  }

  /** The same world with something plugged into those of some places that are dark; undefined: nothing comes up by that. */
  pluggedIn(world: World, places: readonly Id[]): Plugged | undefined {
    const known = this.#plugged.get(world) ?? new Map<string, Plugged | undefined>();
    this.#plugged.set(world, known);
    const key = plugKey(places);
    if (known.has(key)) return known.get(key);
    const found = pluggedIn(this.#network, world.settled, places);
    const plugged = found && { ...found, prover: this.#create(found.network, found.settled) };
    known.set(key, plugged);
    return plugged;
  }

  /**
   * Who can begin something with whom, in a world as it is and with somebody at every socket where one of them begins and nobody is plugged in;
   * undefined: nobody can tell of one of both.
   */
  between(world: World, asked: Between): readonly (Pairs | undefined)[] {
    const places = [...new Set(asked.from.flatMap(({ entrances }) => entrances))];
    const plugged = this.pluggedIn(world, places);
    const provers = [this.in(world), ...(plugged === undefined ? [] : [plugged.prover])];
    return provers.map((prover) => prover.between?.(asked));
  }

  /** Lets go of all of them. */
  clear(): void {
    this.#asTheyAre.clear();
    this.#plugged.clear();
  }
}

/** A word for places where something is plugged in. */
export function plugKey(places: readonly Id[]): string {
  return places.join(" ");
}
