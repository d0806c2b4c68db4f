/**
 * A site that starts from dark: everything is off, devices come on step by step, and after each step time passes until
 * nothing changes any more. What it has come to in the end is asked like any site at one moment (`moment.ts`).
 */
import type { Id, Network, Pick } from "../../network/index.ts";
import { Course } from "../../simulate/index.ts";
import type { Evaluation } from "../evaluation.ts";
import { nextOutcomes, type OpenChoice, openIn } from "../left-open.ts";
import { momentOf } from "../moment.ts";
import type { World } from "../worlds.ts";
import { type Order, orderKey } from "./orders.ts";

/** What a site has come to. */
export type Start = {
  /** In this order. */
  readonly order: Order;
  /** Under these picks. */
  readonly picks: readonly Pick[];
  /** Questions to what it is in the end. */
  readonly evaluation: Evaluation;
  /** What it is, in the form of a world at rest. */
  readonly world: World;
  /** A word for what it has come to; two starts with one word came to the same. */
  readonly key: string;
  /** It was still changing when it was last looked at. */
  readonly isRestless: boolean;
  /** What the documents left open on the way, as it was taken first. */
  readonly open: readonly OpenChoice[];
};

/** What an order comes to. */
export type Outcomes = {
  /** One for each combination of what the documents leave open. */
  readonly starts: readonly Start[];
  /** There are no more than these. */
  readonly isAll: boolean;
};

/** Between two steps so long nothing must change: longer than LACP's slow time-out and a client's longest silence. */
const PAUSE_MS = 130_000;
/** In the end so long: longer than a router is silent between two advertisements (RFC 4861 section 6.2.1: 1800 s). */
const REST_MS = 1_900_000;
/** What has not come to rest after so long never does. */
const MOST_MS = 14_400_000;

/** An order in several steps is not tried in more outcomes than this. */
const MOST_OUTCOMES = 16;

/** All starts of one site; each is made once. */
export class Starts {
  /** The whole site at rest, as it is without any start. */
  readonly evaluation: Evaluation;
  /** Devices that start, in document order. */
  readonly devices: readonly Id[];
  readonly #known = new Map<string, Start>();

  constructor(evaluation: Evaluation) {
    this.evaluation = evaluation;
    this.devices = devicesOf(evaluation.network);
  }

  /** What an order comes to under each combination of what the documents leave open. */
  after(written: Order): Outcomes {
    const order = written.map((step) => this.devices.filter((id) => step.includes(id)));
    // At once whoever starts meets what is open at rest; else only the course tells what is open on its way.
    const { worlds } = this.evaluation.worlds();
    const pending = order.length === 1 ? worlds.map(({ picks }) => picks) : [[]];
    const starts: Start[] = [];
    for (let picks = pending.shift(); picks !== undefined; picks = pending.shift()) {
      if (order.length > 1 && starts.length === MOST_OUTCOMES) return { starts, isAll: false };
      const start = this.#start(order, picks);
      starts.push(start);
      if (order.length > 1) pending.push(...nextOutcomes(start));
    }
    return { starts, isAll: true };
  }

  #start(order: Order, picks: readonly Pick[]): Start {
    const key = `${orderKey(order)} ${JSON.stringify(picks)}`;
    const start = this.#known.get(key) ?? startIn(order, picks, this.evaluation);
    this.#known.set(key, start);
    return start;
  }
}

function devicesOf({ devices }: Network): readonly Id[] {
  const place = ({ origin: { span } }: Network["devices"][number]): readonly [number, number] => [
    span.file,
    span.start,
  ];
  return devices
    .filter(({ standIn }) => !standIn)
    .toSorted((one, other) => {
      const [[file, start], [otherFile, otherStart]] = [place(one), place(other)];
      return file - otherFile || start - otherStart;
    })
    .map(({ id }) => id);
}

function startIn(order: Order, picks: readonly Pick[], { network, work }: Evaluation): Start {
  const off = new Set(devicesOf(network));
  const dark = { network, down: [], off: [...off], silent: [] };
  const course = new Course(dark, { begins: "cold", picks, tally: work });
  const open = new Map<Id, OpenChoice>();
  const note = (): void => {
    for (const each of openIn(course.world.settled)) if (!open.has(each.choice)) open.set(each.choice, each);
  };
  let isRestless = false;
  for (const [index, step] of order.entries()) {
    for (const id of step) off.delete(id);
    course.become({ ...dark, off: [...off] });
    note();
    isRestless = !course.rest(index === order.length - 1 ? REST_MS : PAUSE_MS, MOST_MS, note);
  }
  const evaluation = momentOf(course);
  const [world] = evaluation.worlds().worlds;
  if (world === undefined) throw new Error("a moment without a world");
  return { order, picks, evaluation, world, key: keyOf(world, picks), isRestless, open: [...open.values()] };
}

function keyOf({ settled, failures, tunnels }: World, picks: readonly Pick[]): string {
  const { bonds, blocked, down, bindings, storms } = settled;
  const given = bindings.map(({ interface: at, server, family, value, routes }) => [
    at,
    server,
    family,
    String(value),
    ...routes.map(({ prefix, length, via }) => `${prefix}/${length} ${via}`),
  ]);
  return JSON.stringify([
    picks,
    bonds.map(({ bond, sends, takes }) => [bond, sends, takes]),
    blocked.map(({ port }) => port),
    down,
    storms.map(({ ports }) => ports),
    given,
    failures.map((failure) => [failure.interface, failure.text]),
    tunnels.map(({ link }) => link),
  ]);
}
