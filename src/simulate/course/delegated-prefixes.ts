/**
 * Delegated prefixes over time: a router asks until it is answered, and then has its prefix until it is switched off. How long providers
 * lend one is not modelled.
 */
import type { Id, Network, Settled, Undelegated } from "../../network/index.ts";
import { askersIn, askForPrefixes } from "../delegations.ts";
import type { SimulationOptions } from "../results.ts";

/** Who holds a prefix. */
export class DelegatedPrefixes {
  #held: ReadonlySet<Id> = new Set();

  /** Those that have not come to anybody yet, on a site whose devices without power are out of the network. */
  lostIn(network: Network, links: Settled, options: SimulationOptions): readonly Undelegated[] {
    const present = new Set(askersIn(network).map(({ leg }) => leg.id));
    const kept = [...this.#held].filter((id) => present.has(id));
    const { lost, came } = askForPrefixes(network, links, options, new Set(kept));
    this.#held = new Set([...kept, ...came]);
    return lost;
  }
}
