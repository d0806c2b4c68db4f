/**
 * Parts of the wiring: places between which frames may pass without being routed, whatever is up, blocked or tagged. Of
 * several states of a site together, so that what was joined by an edit is one part from the start.
 */
import type { Id, Network } from "../network/index.ts";

/** All parts, told by one place in each. */
export class Wiring {
  readonly #above = new Map<Id, Id>();

  constructor(networks: readonly Network[]) {
    for (const network of networks) {
      for (const { id, ends } of network.links) for (const end of ends) this.#join(id, end);
      for (const { id, members } of network.bonds) for (const member of members) this.#join(id, member);
      for (const { id, ports } of network.bridges) {
        for (const port of ports) {
          this.#join(id, port.on);
          this.#join(id, port.id);
        }
      }
      for (const { interfaces } of network.stacks) for (const leg of interfaces) this.#join(leg.on, leg.id);
    }
  }

  /** The part that a place lies in. */
  partOf(id: Id): Id {
    let top = id;
    for (let above = this.#above.get(top); above !== undefined; above = this.#above.get(top)) top = above;
    // The next search is shorter.
    if (top !== id) this.#above.set(id, top);
    return top;
  }

  #join(one: Id, other: Id): void {
    const [a, b] = [this.partOf(one), this.partOf(other)];
    if (a !== b) this.#above.set(a, b);
  }
}
