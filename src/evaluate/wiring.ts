/**
 * The wiring of a site as a graph: ports, links, bonds, bridges with their ports, and interfaces. Of several states of a site
 * together, so that what was joined by an edit is joined from the start.
 *
 * Two grains. A *part* is all places between which frames may pass without being routed, whatever is up, blocked or tagged. The
 * *ways* between some ends are less: a twig, that is all of the graph behind one place that holds no ring and no end, can
 * neither carry a frame from one end to another nor send it back. Twigs are found by taking away leaves again and again; what
 * stays is rings and what lies between them, or the middle of a part without rings. Ways are all that stays of the part, and
 * what leads there from each end.
 */
import type { Id, Network } from "../network/index.ts";

/** Some ends of frames, with all places on ways between them. */
type Ways = {
  /** Places of twigs. */
  readonly twigs: ReadonlySet<Id>;
  /** Parts of which all that is no twig counts. */
  readonly cores: ReadonlySet<Id>;
};

/** What is joined to what. */
export class Wiring {
  readonly #above = new Map<Id, Id>();
  readonly #beside = new Map<Id, Set<Id>>();
  readonly #bridges = new Set<Id>();
  /** Of each place in a twig the next one towards the middle. */
  readonly #inward = new Map<Id, Id>();
  /** Interfaces that hear frames for the same hardware address. */
  readonly #alike = new Map<Id, ReadonlySet<Id>>();
  /** Interfaces of upstreams, which answer for whatever they have no route to. */
  readonly #everywhere = new Set<Id>();
  readonly #ways = new WeakMap<ReadonlySet<Id>, Ways>();

  constructor(networks: readonly Network[]) {
    for (const network of networks) this.#add(network);
    this.#pruneTwigs();
    const legs = networks.flatMap(({ stacks }) => stacks.flatMap(({ interfaces }) => interfaces));
    const byHardware = new Map<bigint, Set<Id>>();
    for (const { id, hardware } of legs) {
      const group = byHardware.get(hardware) ?? new Set<Id>();
      byHardware.set(hardware, group.add(id));
    }
    for (const { id, hardware } of legs) {
      // One that an edit gave another address is heard by both.
      const group = [...(this.#alike.get(id) ?? []), ...(byHardware.get(hardware) ?? [])];
      this.#alike.set(id, new Set(group));
    }
  }

  /** The part that a place lies in, told by one place in it. */
  partOf(id: Id): Id {
    let top = id;
    for (let above = this.#above.get(top); above !== undefined; above = this.#above.get(top)) top = above;
    // The next search is shorter.
    if (top !== id) this.#above.set(id, top);
    return top;
  }

  /** Whether one of these places lies on a way between some ends, or is plugged in right beside one. */
  touches(places: Iterable<Id>, ends: ReadonlySet<Id>): boolean {
    const ways = this.#waysBetween(ends);
    for (const id of places) if (this.#isOn(ways, id) || this.#isPluggedIn(ways, id)) return true;
    return false;
  }

  #add({ links, bonds, bridges, stacks }: Network): void {
    for (const { id, ends } of links) for (const end of ends) this.#join(id, end);
    for (const { id, members } of bonds) for (const member of members) this.#join(id, member);
    for (const { id, ports } of bridges) {
      this.#bridges.add(id);
      for (const port of ports) {
        this.#join(id, port.id);
        this.#join(port.id, port.on);
      }
    }
    for (const { interfaces, answersFor } of stacks) {
      for (const leg of interfaces) {
        this.#join(leg.on, leg.id);
        if (answersFor === "everywhere") this.#everywhere.add(leg.id);
      }
    }
  }

  #join(one: Id, other: Id): void {
    if (one === other) return;
    this.#besideOf(one).add(other);
    this.#besideOf(other).add(one);
    const [a, b] = [this.partOf(one), this.partOf(other)];
    if (a !== b) this.#above.set(a, b);
  }

  #besideOf(id: Id): Set<Id> {
    const known = this.#beside.get(id) ?? new Set<Id>();
    this.#beside.set(id, known);
    return known;
  }

  #pruneTwigs(): void {
    const left = new Map([...this.#beside].map(([id, beside]) => [id, beside.size]));
    const leaves = [...left].flatMap(([id, count]) => (count === 1 ? [id] : []));
    // Places that become leaves are appended and so taken, too.
    for (const leaf of leaves) {
      if (left.get(leaf) !== 1) continue;
      left.set(leaf, 0);
      for (const next of this.#besideOf(leaf)) {
        if (this.#inward.has(next) || next === leaf) continue;
        this.#inward.set(leaf, next);
        const count = (left.get(next) ?? 0) - 1;
        left.set(next, count);
        if (count === 1) leaves.push(next);
      }
    }
  }

  #waysBetween(ends: ReadonlySet<Id>): Ways {
    const known = this.#ways.get(ends);
    if (known !== undefined) return known;
    const twigs = new Set<Id>();
    const cores = new Set([...ends].map((id) => this.partOf(id)));
    const all = new Set([...ends].flatMap((id) => [id, ...(this.#alike.get(id) ?? [])]));
    for (const id of this.#everywhere) if (cores.has(this.partOf(id))) all.add(id);
    for (const id of all) {
      cores.add(this.partOf(id));
      for (let at: Id | undefined = id; at !== undefined && !twigs.has(at); at = this.#inward.get(at)) twigs.add(at);
    }
    const ways = { twigs, cores };
    this.#ways.set(ends, ways);
    return ways;
  }

  #isOn({ twigs, cores }: Ways, id: Id): boolean {
    return twigs.has(id) || (!this.#inward.has(id) && cores.has(this.partOf(id)));
  }

  /** A link makes a hub of a port, and an interface takes frames of its tag away from a bridge; a bridge has many ports. */
  #isPluggedIn(ways: Ways, id: Id): boolean {
    return [...this.#besideOf(id)].some((next) => !this.#bridges.has(next) && this.#isOn(ways, next));
  }
}
