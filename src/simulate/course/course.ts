/**
 * A site over time: what it is at each moment, as links, bonds, spanning tree, leases and advertisements make it.
 */
import type { Settled } from "../../network/index.ts";
import { settle, withBindings } from "../../settle/index.ts";
import { acquireBindings } from "../leases.ts";
import type { BindingFailure, ProbeRequest, ProbeResult } from "../results.ts";
import { createSimulation } from "../simulation.ts";
import type { Circumstances, CourseMoment, CourseOptions } from "./records.ts";

/** What a site is at one moment. */
export type CourseWorld = {
  /** Links, bonds, blocked ports, leases as they are now. */
  readonly settled: Settled;
  /** Clients that have no lease now, and why. */
  readonly failures: readonly BindingFailure[];
};

/** One site, from a moment on. */
export class Course {
  #circumstances: Circumstances;
  #nowMs = 0;
  #world: CourseWorld;
  readonly #options: CourseOptions;

  constructor(circumstances: Circumstances, options: CourseOptions = {}) {
    this.#circumstances = circumstances;
    this.#options = options;
    this.#world = this.#settle();
  }

  /** Milliseconds since it began. */
  get nowMs(): number {
    return this.#nowMs;
  }

  /** What holds from outside. */
  get circumstances(): Circumstances {
    return this.#circumstances;
  }

  /** What the site is now. */
  get world(): CourseWorld {
    return this.#world;
  }

  /** Other circumstances hold from now on. What that changes at once is the moment returned. */
  become(circumstances: Circumstances): CourseMoment {
    this.#circumstances = circumstances;
    this.#world = this.#settle();
    return { atMs: this.#nowMs, events: [], isOther: true };
  }

  /** Lets time pass up to the next moment at which something changes; undefined: nothing does until then. */
  next(untilMs: number): CourseMoment | undefined {
    this.#nowMs = untilMs;
    return undefined;
  }

  /** Makes one exchange now, with all that devices remember; they remember it, too. */
  probe(request: ProbeRequest): ProbeResult {
    return createSimulation(this.#circumstances.network, this.#world.settled).probe(request);
  }

  #settle(): CourseWorld {
    const { network, down } = this.#circumstances;
    const { picks = [] } = this.#options;
    const links = settle(network, { down, picks });
    const { bindings, failures } = acquireBindings(network, links, { picks });
    return { settled: withBindings(network, links, bindings), failures };
  }
}
