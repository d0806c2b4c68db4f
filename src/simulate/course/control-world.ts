/**
 * The world in which frames of the link layer's own protocols move: links and bonds as they are now. The spanning tree is what
 * takes a storm away, so nothing is drowned in one.
 */
import type { Id, Network, Pick } from "../../network/index.ts";
import { type Standing, settle } from "../../settle/index.ts";
import type { Bpdu } from "../../wire/index.ts";
import type { CaptureSink, Tally } from "../results.ts";
import { newWorld } from "../run-world.ts";
import type { ControlListener, World } from "../world.ts";

/** What the control plane is told about the day. */
export type ControlDay = {
  /** The site; what is off in it has no carrier. */
  readonly network: Network;
  /** Failed links, ports and shared fates, ports of devices that are off among them. */
  readonly down: readonly Id[];
  /** Devices that are off. */
  readonly off: ReadonlySet<Id>;
};

/** How it goes about it. */
export type ControlOptions = {
  /** What is taken of what stays open. */
  readonly picks: readonly Pick[];
  /** Gets every frame. Default: nobody does. */
  readonly capture?: CaptureSink;
  /** Sends what changes nothing, too. */
  readonly everyFrame: boolean;
  /** Counts events. */
  readonly tally: Tally;
};

/** Remembers which message came where, so that it is known whether it comes for the first time. */
export function firstTimes(): ControlListener["isNew"] {
  const seen = new WeakMap<Bpdu, Set<string>>();
  return (port, vlan, bpdu) => {
    const places = seen.get(bpdu) ?? new Set<string>();
    seen.set(bpdu, places);
    const place = `${port} ${vlan ?? 0}`;
    if (places.has(place)) return false;
    places.add(place);
    return true;
  };
}

/** A world for these frames; of what nobody knows about a switch the first is taken. */
export function controlWorld({ network, down }: ControlDay, standing: Standing, options: ControlOptions): World {
  const { picks, capture, tally } = options;
  const settled = settle(network, { picks, down, standing });
  const habits = settled.choices.flatMap(({ id, kind, options: [usual = ""] }) => {
    return kind === "unmanaged-habit" && !picks.some(({ choice }) => choice === id)
      ? [{ choice: id, option: usual }]
      : [];
  });
  const calm = { ...settled, storms: [], blocked: [] };
  return newWorld(network, calm, {
    picks: [...picks, ...habits],
    tally,
    ...(capture === undefined ? {} : { capture }),
  });
}
