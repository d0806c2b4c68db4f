/**
 * Which of many ends can begin something with which, all pairs in one walk (`together.ts`): who sends does so under an address of its
 * own, and what it sends needs no packets before it.
 */
import { EMPTY_RANGES, type Ranges, unionRanges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import { type Aim, aimAt } from "./aim.ts";
import { type Asked, AskedBook } from "./asked.ts";
import { beginAll, enterAll, suppliesOf } from "./begin.ts";
import { flowsOf } from "./box.ts";
import type { Ground } from "./ground.ts";
import { having } from "./passage.ts";
import type { Question } from "./question.ts";
import { type Relevant, relevantTo } from "./relevant.ts";
import { takeStep } from "./steps.ts";
import { cutBy, overlaid } from "./stretches.ts";
import { Together } from "./together.ts";

/** Who begins. */
export type Beginner = Pick<Question, "entrances" | "senders"> & {
  /** Keys of the addresses that it sends from; no two beginners have one in common. */
  readonly addresses: Ranges;
  /** The line that says so. */
  readonly origin: Origin;
};

/** What is asked about many pairs at once. */
export type Between = {
  /** Who begins. */
  readonly from: readonly Beginner[];
  /** Whose packets are meant: keys of addresses, owned or not; no two have one in common. */
  readonly to: readonly Ranges[];
  /** Steps of work after which it is given up. */
  readonly limitSteps: number;
};

/** The answer, by place in `from`, then in `to`. */
export type Pairs = {
  /**
   * `open`: a packet gets there that needs no others before it; `doubtful`: one does, if something is so that nobody knows; `shut`:
   * none does.
   */
  readonly ways: readonly (readonly Way[])[];
  /** What packets that make a way open ask for, as it arrives; of other ways nothing. */
  readonly asked: readonly (readonly Asked[])[];
  /** Steps of work. */
  readonly steps: number;
};

/** What becomes of packets from one to another. */
export type Way = "open" | "doubtful" | "shut";

/** All pairs; undefined: it would take more steps than the limit. `groundOf` gives what a walk to an aim goes through. */
export function waysBetween(
  { from, to, limitSteps }: Between,
  groundOf: (question: Question, aim: Aim, relevant: Relevant) => Ground,
  site: Parameters<typeof relevantTo>[1],
): Pairs | undefined {
  const target = {
    addresses: to.reduce(unionRanges, EMPTY_RANGES),
    interfaces: [],
    stacks: [],
    segments: [],
    upstreams: [],
  };
  const question: Question = { entrances: [], senders: [], packets: [[]], target, limitSteps };
  const aim = aimAt(target, site.atlas);
  const begun = new Set(from.flatMap(({ senders }) => senders.map(({ stack }) => stack)));
  const relevant = relevantTo(aim, site, begun);
  const ground = groundOf(question, aim, relevant);
  const ways = from.map(() => to.map((): Way => "shut"));
  const [rowsOf, columnsOf] = [placesIn(from.map(({ addresses }) => addresses)), placesIn(to)];
  const book = new AskedBook();
  const asked = from.map(() => to.map(() => new Set<number>()));
  const walk = new Together(ground, takeStep, ({ sources, destinations }, flow, isSure) => {
    const columns = columnsOf(destinations);
    const number = isSure ? book.numberOf(flow) : undefined;
    for (const row of rowsOf(sources)) {
      const cells = ways[row] ?? [];
      for (const column of columns) {
        if (cells[column] !== "open") cells[column] = isSure ? "open" : "doubtful";
        if (number !== undefined) asked[row]?.[column]?.add(number);
      }
    }
  });
  for (const each of from) begin(walk, each, question, relevant);
  walk.run();
  if (ground.meter.exceeded) return undefined;
  return { ways, asked: asked.map((row) => row.map((numbers) => book.allOf(numbers))), steps: ground.meter.spent };
}

/** Packets from addresses of whoever begins them. */
function begin(
  walk: Together,
  { entrances, senders, addresses, origin }: Beginner,
  asked: Question,
  relevant: Relevant,
): void {
  const packets: Question["packets"] = [[{ field: "source", within: addresses, origin }]];
  const question: Question = { ...asked, entrances, senders, packets };
  const supplies = suppliesOf(question, relevant, false);
  const reach = walk.ground.reaches.ofEntrances(entrances);
  const begun = [...enterAll(walk, reach, flowsOf(packets), supplies), ...beginAll(walk, question, supplies)];
  // How they end is told to nobody, so they need not be parted for it.
  walk.addAll(begun.map((passage) => having(passage, { counts: false })));
}

/** Answers with the places of those sets that have some of the keys. */
function placesIn(all: readonly Ranges[]): (keys: Ranges) => readonly number[] {
  const owners = overlaid(all.map((keys, place) => [place, keys] as const));
  const known = new WeakMap<Ranges, readonly number[]>();
  return (keys) => {
    // Hot: one set of keys arrives by many lines of a list.
    const places = known.get(keys) ?? [...new Set(cutBy(owners, keys).flatMap(({ value }) => value ?? []))];
    known.set(keys, places);
    return places;
  };
}
