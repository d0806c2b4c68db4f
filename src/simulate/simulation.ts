/**
 * A simulation: one site at rest, with the state that frames leave behind as they pass.
 */
import type { Address } from "../address/index.ts";
import type { Id, Network, Settled } from "../network/index.ts";
import type { Frame, IpPacket } from "../wire/index.ts";
import { Exchange } from "./exchange.ts";
import { injectionOf } from "./injection.ts";
import { newJournal } from "./journal.ts";
import { enterAt } from "./link-layer.ts";
import { need, type StackPlan } from "./plan.ts";
import { resultOf } from "./probe-result.ts";
import type { Injection, ProbeRequest, ProbeResult, SimulationOptions } from "./results.ts";
import { LIMIT_EVENTS, newWorld, runWorld } from "./run-world.ts";
import { selectSource } from "./source-address.ts";
import type { World } from "./world.ts";

const FIRST_PORT = 40_000;

/**
 * Who answers: every station as it would; only to what was sent, since whoever sent it takes the answer without a word; or
 * nobody, since the next frame is there first; or nobody and no rule either, since it is there before anything else.
 */
export type Answering = "all" | "once" | "nobody" | "late";

/** A frame that enters. Default: all answer. */
type Injecting = { readonly at: Id; readonly frame: Frame; readonly answering?: Answering };

/** By which interface a packet leaves (default: by the routes), and who answers it (default: all). */
type Sending = { readonly egress?: Id; readonly answering?: Answering };

/** Moves frames through a site. Address tables, neighbour caches, connections and translations start empty and stay between calls. */
export class Simulation {
  readonly #world: World;
  readonly #limitEvents: number;
  #nextPort = FIRST_PORT;

  constructor(world: World, limitEvents: number) {
    this.#world = world;
    this.#limitEvents = limitEvents;
  }

  /** Begins an exchange and lets it come to its end. */
  probe(request: ProbeRequest): ProbeResult {
    const world = this.#begin();
    const stack = need(world.plan.stacks, request.from, "stack");
    world.notes.stack(request.from);
    const source = request.source ?? this.#sourceFor(stack, request);
    const sourcePort = request.sourcePort ?? this.#nextPort++;
    const exchange = new Exchange(world, stack, source ?? unspecified(request), { ...request, sourcePort });
    world.watcher = exchange;
    if (source === undefined) exchange.hasNoSource();
    else exchange.begin();
    const isOver = () => world.journal.arrivals.some(({ journey }) => journey === exchange.request);
    runWorld(world, this.#limitEvents, request.untilArrival === true ? isOver : undefined);
    world.watcher = undefined;
    return resultOf(world, exchange);
  }

  /** Lets a frame enter a device at an attachment and follows everything that becomes of it. */
  inject({ at, frame, answering = "all" }: Injecting): Injection {
    const world = this.#begin(answering);
    world.capture?.frame(at, world.nowUs, frame);
    const flight = { journey: SENT, trail: undefined };
    enterAt(world, need(world.plan.attachments, at, "attachment"), frame, flight, true);
    runWorld(world, this.#limitEvents);
    return injectionOf(world);
  }

  /** Sends a packet from a stack as it stands, whatever its source, and follows everything that becomes of it. */
  sendFrom(from: Id, packet: IpPacket, options: Sending = {}): Injection {
    const world = this.#begin(options.answering ?? "all");
    const stack = need(world.plan.stacks, from, "stack");
    const egress = options.egress === undefined ? undefined : need(stack.byId, options.egress, "interface");
    world.send({ stack, packet, journey: SENT, begun: "program", egress });
    runWorld(world, this.#limitEvents);
    return injectionOf(world);
  }

  /** The address that a stack gives a packet of its own; undefined: it has none. */
  sourceFor(from: Id, destination: Address): Address | undefined {
    return selectSource(need(this.#world.plan.stacks, from, "stack"), destination, this.#world.picks);
  }

  /** Virtual time in microseconds since the simulation began. */
  get nowUs(): number {
    return this.#world.nowUs;
  }

  /** Lets time pass. */
  wait(seconds: number): void {
    this.#world.nowUs += Math.round(seconds * 1_000_000);
  }

  #begin(answering: Answering = "all"): World {
    const world = this.#world;
    world.watcher = WATCHERS[answering];
    world.answersLate = answering === "late";
    Object.assign(world.journal, newJournal());
    world.picks.begin();
    world.queue.clear();
    return world;
  }

  #sourceFor(stack: StackPlan, { destination, egress }: ProbeRequest): Address | undefined {
    const bound = egress === undefined ? undefined : need(stack.byId, egress, "interface");
    return selectSource(stack, destination, this.#world.picks, bound);
  }
}

function unspecified({ destination }: ProbeRequest): Address {
  return { family: destination.family, value: 0n };
}

type Watcher = NonNullable<World["watcher"]>;

/** Takes what it hears, so that nobody answers it; neighbours are told as ever. */
function taking(takes: (passage: Parameters<Watcher["hears"]>[0]) => boolean): Watcher {
  return {
    hears: (passage) => passage.packet.body.kind !== "neighbour" && takes(passage),
    fails: () => {},
    taps: () => false,
    concerns: () => undefined,
  };
}

const WATCHERS: { readonly [answering in Answering]: Watcher | undefined } = {
  all: undefined,
  once: taking(({ journey }) => journey.descent === "answer"),
  nobody: taking(() => true),
  late: taking(() => true),
};

const SENT = { descent: "sent", parent: undefined } as const;

/** A simulation of a site at rest, with nothing learned yet. */
export function createSimulation(network: Network, settled: Settled, options: SimulationOptions = {}): Simulation {
  return new Simulation(newWorld(network, settled, options), options.limitEvents ?? LIMIT_EVENTS);
}
