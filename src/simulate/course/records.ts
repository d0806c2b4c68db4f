/**
 * The course of a site over time, as plain records: under which circumstances it runs, and what changes in what its devices
 * know. Times are milliseconds of virtual time since the course began.
 */
import type { Origin } from "../../diagnose/index.ts";
import type { Id, Network, Pick } from "../../network/index.ts";
import type { CaptureSink, Tally } from "../results.ts";

/** What holds of a site from outside: how it is configured and cabled, and what of it is off or broken. */
export type Circumstances = {
  /** The site as it is configured and cabled. */
  readonly network: Network;
  /** Failed links, ports and shared fates. */
  readonly down: readonly Id[];
  /** Devices without power; what they kept in memory is gone. */
  readonly off: readonly Id[];
  /** Services that do not run while their device does; what they kept in memory is gone. */
  readonly silent: readonly Silenced[];
};

/** A service that was stopped. */
export type Silenced = {
  /** Its id. */
  readonly id: Id;
  /** The line that stopped it. */
  readonly by: Origin;
};

/** How a course begins. */
export type CourseOptions = {
  /** What is taken of what stays open. Default: the first option of everything. */
  readonly picks?: readonly Pick[];
  /** `at-rest`: everything has been up for long; `cold`: power comes on at this moment. Default: `at-rest`. */
  readonly begins?: "at-rest" | "cold";
  /** Gets every frame, also those of LACP and the spanning tree. Default: nobody does. */
  readonly capture?: CaptureSink;
  /** Sends periodic frames that change nothing, too. Default: they are skipped, and nothing else comes of it. */
  readonly everyFrame?: boolean;
  /** Counts events. */
  readonly tally?: Tally;
};

/** Something that changed in what a device knows. */
export type CourseEvent = {
  /** When, in milliseconds. */
  readonly atMs: number;
  /** What kind of thing changed. */
  readonly what:
    | "carrier"
    | "bond"
    | "spanning-tree"
    | "storm"
    | "address-table"
    | "neighbour"
    | "connection"
    | "lease"
    | "lease-request"
    | "advertisement"
    | "tunnel"
    | "session";
  /** Id of the part: a port, a bond, a bridge port, an interface, a stack. */
  readonly at: Id;
  /** A sentence fragment about it: "carries by lan2 alone", "gives up 10.71.30.100". */
  readonly text: string;
  /** The line behind it. */
  readonly origin: Origin;
  /** It only goes on as it was: a lease that is longer now. Default: it is another one. */
  readonly isSame?: true;
};

/** A moment at which the site became something else. */
export type CourseMoment = {
  /** When, in milliseconds. */
  readonly atMs: number;
  /** What changed, in the order of happening. */
  readonly events: readonly CourseEvent[];
  /** Whether what the site is (`Course.world`) is not what it was; else only some memory changed. */
  readonly isOther: boolean;
};
