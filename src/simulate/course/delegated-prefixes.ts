/**
 * Delegated prefixes over time: a router asks until it is answered, and then has its prefix until it is switched off. How long providers
 * lend one is not modelled.
 */
import { deviceOf, type Id, type Network, type Settled, type Undelegated } from "../../network/index.ts";
import { askersIn, askForPrefixes } from "../delegations.ts";
import type { SimulationOptions } from "../results.ts";

/** Who holds a prefix. */
export class DelegatedPrefixes {
  #held: ReadonlySet<Id> = new Set();

  /** Those that have not come to anybody yet; devices that are `off` forget theirs. */
  lostIn(network: Network, links: Settled, off: ReadonlySet<Id>, options: SimulationOptions): readonly Undelegated[] {
    const present = new Set(askersIn(network).map(({ leg }) => leg.id));
    const kept = [...this.#held].filter((id) => present.has(id) && !off.has(deviceOf(id)));
    const { lost, came, cut } = askForPrefixes(network, links, options, new Set(kept));
    this.#held = new Set([...kept, ...came]);
    return [...lost, ...cut];
  }
}
