/**
 * Which stacks that track connections packets may still come to, a superset: by their destination alone, whatever rules say. Packets
 * that only begin connections are of no use where no packet that was asked about waits for one.
 */
import {
  addressKey,
  FAMILY_KEYS,
  intersectRanges,
  type Ranges,
  rangesEqual,
  rangesOverlap,
  single,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import type { Notes, Route } from "../network/index.ts";
import type { Atlas, Leg, Node } from "./atlas.ts";
import { LINK_LOCAL, type Reaches } from "./reaches.ts";
import { rewritingsOf } from "./relevant.ts";
import { cutBy } from "./stretches.ts";

/** What is ahead of packets, kept between questions. */
export type Ahead = {
  /** Stacks that track. */
  readonly trackers: ReadonlySet<Node>;
  /** What was looked at for it, told to notes one by one. */
  readonly told: readonly ((notes: Notes) => void)[];
};

/** The site at rest, and what is known already: by stack and destinations. */
type Surveyed = {
  readonly atlas: Atlas;
  readonly reaches: Reaches;
  readonly ahead: Map<string, Ahead>;
  readonly notes: Notes;
};

/** Stacks that track, and that packets to some destinations (keys) may come to from an interface on, its own among them. */
export function trackersAhead({ node }: Leg, destinations: Ranges, site: Surveyed): ReadonlySet<Node> {
  const key = `${node.stack.id} ${destinations.map(([low, high]) => `${low}-${high}`).join("+")}`;
  const known = site.ahead.get(key) ?? new Survey(site).from(node, destinations);
  site.ahead.set(key, known);
  for (const tell of known.told) tell(site.notes);
  return known.trackers;
}

class Survey {
  readonly #site: Pick<Surveyed, "atlas" | "reaches">;
  readonly #trackers = new Set<Node>();
  readonly #told: ((notes: Notes) => void)[] = [];
  /** Destinations that were asked at each stack. */
  readonly #asked = new Map<Node, Ranges>();
  readonly #work: [node: Node, destinations: Ranges][] = [];

  constructor(site: Pick<Surveyed, "atlas" | "reaches">) {
    this.#site = site;
  }

  from(node: Node, destinations: Ranges): Ahead {
    this.#work.push([node, destinations]);
    for (let next = this.#work.pop(); next !== undefined; next = this.#work.pop()) this.#pass(...next);
    return { trackers: this.#trackers, told: this.#told };
  }

  #pass(node: Node, destinations: Ranges): void {
    const { stack, routes } = node;
    const asked = this.#asked.get(node);
    const wanted = asked === undefined ? destinations : subtractRanges(destinations, asked);
    if (asked === undefined) {
      this.#told.push((notes) => notes.stack(stack.id));
      if ([...stack.local, ...stack.onward, ...stack.sent].some(({ op }) => op === "confirm")) this.#trackers.add(node);
    }
    if (wanted.length === 0) return;
    const all = this.#rewritten(wanted);
    this.#asked.set(node, unionRanges(asked ?? [], all));
    if (!node.forwards) return;
    this.#told.push((notes) => notes.routes(routes, all));
    for (const { value, numbers } of cutBy(node.ways, all)) this.#goOn(node, value ?? node.otherwise, numbers);
    // What is sent to an address of the link is looked for on that link again.
    const near = intersectRanges(all, LINK_LOCAL);
    if (near.length > 0) for (const leg of node.legs) this.#leave(leg, near, undefined);
  }

  /** With what any translation may turn them into. */
  #rewritten(destinations: Ranges): Ranges {
    let all = destinations;
    for (let before: Ranges = []; !rangesEqual(before, all); ) {
      before = all;
      for (const { end, from, to } of rewritingsOf(this.#site.atlas)) {
        // Answers to what is hidden get its source back.
        const [was, becomes] = end === "destination" ? [from, to] : [to, from];
        if (rangesOverlap(was, all)) all = unionRanges(all, becomes);
      }
    }
    return all;
  }

  #goOn(node: Node, { action }: Pick<Route, "action">, numbers: Ranges): void {
    if (action.do !== "forward") return;
    const family = (numbers[0]?.[0] ?? 0n) <= FAMILY_KEYS[4][1] ? 4 : 6;
    for (const { egress, via } of action.hops) {
      const leg = node.legs.find(({ interface: { id } }) => id === egress);
      const hop = via === undefined ? undefined : addressKey({ family, value: via });
      if (leg !== undefined) this.#leave(leg, numbers, hop);
    }
  }

  /** Whoever may take packets to these destinations from a link. */
  #leave(leg: Leg, numbers: Ranges, hop: bigint | undefined): void {
    const { reaches } = this.#site;
    this.#told.push((notes) => notes.link([leg.interface.id]));
    if (leg.interface.tunnel !== undefined) {
      for (const peer of reaches.hearersOf(leg)) this.#work.push([peer.node, numbers]);
      return;
    }
    const owners = cutBy(reaches.ownersOf(leg), hop === undefined ? numbers : single(hop));
    for (const { value = [], numbers: theirs } of owners)
      for (const owner of value) this.#work.push([owner.node, hop === undefined ? theirs : numbers]);
  }
}
