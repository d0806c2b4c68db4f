/**
 * What a walk goes through, and what packets bring along.
 */
import type { Ranges } from "../address/index.ts";
import type { Alternatives, Field, Notes, Step } from "../network/index.ts";
import type { Aim } from "./aim.ts";
import type { Atlas, Leg } from "./atlas.ts";
import type { Flow } from "./flow.ts";
import type { Permitted } from "./followers.ts";
import type { Meter } from "./meter.ts";
import type { Learned, Passage, Sent } from "./passage.ts";
import type { Reaches } from "./reaches.ts";
import type { Conditional, RuleList } from "./rules.ts";
import type { Trail } from "./trail.ts";

/** What a walk goes through. */
export type Ground = {
  /** The network at rest. */
  readonly atlas: Atlas;
  /** Its links. */
  readonly reaches: Reaches;
  /** Is told what is looked at. */
  readonly notes: Notes;
  /** Counts the work. */
  readonly meter: Meter;
  /** The target. */
  readonly aim: Aim;
  /** What may come to the target. */
  readonly permitted: readonly Permitted[];
  /** Destinations of packets that can come to the target; a connection that leads elsewhere is not followed. */
  readonly destinations: Ranges;
  /** Sources of packets that can begin a connection which brings something to the target. */
  readonly sources: Ranges;
  /** Fields that anything looks at, and those of how a packet is sent that were asked for. */
  readonly looks: ReadonlySet<Field>;
  /** Something looks at TCP flags, so that later packets of a connection may go where its first cannot. */
  readonly flagsMatter: boolean;
  /** Alternatives of a step, as a list with one rule. */
  readonly alternativesOf: (step: Step, when: Alternatives) => RuleList<Conditional>;
  /** Which interfaces find which others as neighbours, kept between questions. */
  readonly acquaintances: Map<string, Learned>;
  /** Interfaces behind which an upstream is. */
  readonly facesUpstream: (leg: Leg) => boolean;
};

/** What a set of packets brings along when it comes in somewhere. */
export type Entering = {
  /** The packets. */
  readonly flow: Flow;
  /** Their way there. */
  readonly trail: Trail;
  /** How they were sent. */
  readonly sent: Sent;
  /** How many stacks they passed. */
  readonly depth: number;
} & Pick<Passage, "counts" | "aimed" | "arrived" | "uses" | "strangers" | "quotes" | "visits" | "doubt">;
