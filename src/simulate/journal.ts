/**
 * What is written down while frames move: for each packet a journey, for each of its copies a trail of steps, and at
 * the end of each copy what became of it. Trails share their beginnings, so that a flood costs little.
 */
import type { Address } from "../address/index.ts";
import type { Fate, Id, PathStep, SegmentPoint } from "../network/index.ts";
import type { IpPacket } from "../wire/index.ts";
import type { Descent } from "./results.ts";

/** The steps of one copy so far, the latest first. */
export type Trail =
  | {
      /** The latest step. */
      readonly step: PathStep;
      /** The steps before it. */
      readonly before: Trail | undefined;
    }
  | undefined;

/** One packet with everything that becomes of its copies. */
export type Journey = {
  /** How it descends from what was sent. */
  readonly descent: Descent;
  /** Whose descendant it is; undefined: it was sent by the question itself. */
  readonly parent: Journey | undefined;
};

/** One copy of a frame on its way. */
export type Flight = {
  /** Of which packet. */
  readonly journey: Journey;
  /** Its steps so far. */
  readonly trail: Trail;
};

/** A question for a neighbour. */
export type AskedNote = {
  /** The latest of its tries; undefined: there was nobody to ask from. */
  readonly journey: Journey | undefined;
  /** Id of the interface that asked. */
  readonly leg: Id;
  /** The address asked for. */
  readonly address: Address;
};

/** The end of one copy. */
export type EndingNote = {
  /** Of which packet. */
  readonly journey: Journey;
  /** The end. */
  readonly fate: Fate;
  /** Its steps. */
  readonly trail: Trail;
  /** The packet as it ended; undefined: the frame had none. */
  readonly packet: IpPacket | undefined;
  /** The question for a neighbour that went unanswered. */
  readonly asked: AskedNote | undefined;
};

/** A packet at a stack's `deliver` step. */
export type ArrivalNote = {
  /** Of which packet. */
  readonly journey: Journey;
  /** Id of the stack. */
  readonly stack: Id;
  /** Id of the interface; undefined: from the stack itself. */
  readonly ingress: Id | undefined;
  /** As it arrived. */
  readonly packet: IpPacket;
  /** Its steps. */
  readonly trail: Trail;
};

/** A packet on a segment. */
export type CrossingNote = {
  /** Of which packet. */
  readonly journey: Journey;
  /** The segment. */
  readonly point: SegmentPoint;
  /** As it was there. */
  readonly packet: IpPacket;
  /** Its steps. */
  readonly trail: Trail;
};

/** Everything that was written down since the last question began. */
export type Journal = {
  /** In the order of events. */
  endings: EndingNote[];
  /** In the order of events. */
  arrivals: ArrivalNote[];
  /** In the order of events. */
  crossings: CrossingNote[];
};

/** An empty journal. */
export function newJournal(): Journal {
  return { endings: [], arrivals: [], crossings: [] };
}

/** A trail with one more step. */
export function after(before: Trail, step: PathStep): Trail {
  return { step, before };
}

/** The steps of a trail, the first one first. */
export function stepsOf(trail: Trail): PathStep[] {
  const steps: PathStep[] = [];
  for (let at = trail; at !== undefined; at = at.before) steps.push(at.step);
  return steps.reverse();
}

/** How far a fate got: what is told of a journey is the ending that got furthest. */
export function rankOf(fate: Fate): number {
  switch (fate.end) {
    case "delivered":
      return 7;
    case "on-segment":
      return 6;
    case "unknown":
      return 5;
    case "looped":
      return 4;
    case "refused":
      return 3;
    case "dropped":
      return IDLE_ENDS.has(fate.reason) ? 0 : LINK_ENDS.has(fate.reason) ? 1 : 2;
  }
}

/** Ends that every flood has. */
const IDLE_ENDS: ReadonlySet<string> = new Set(["not-for-this-station", "same-port", "no-taker"]);
/** Other ends on the link layer. */
const LINK_ENDS: ReadonlySet<string> = new Set([
  "link-down",
  "nobody-connected",
  "reserved-group",
  "tree-blocked",
  "kind-not-admitted",
  "no-port-vlan",
  "not-member",
  "lease-guarded",
  "isolated",
  "frame-too-big",
  "member-idle",
  "storm",
]);

/**
 * The ending of a journey that got furthest, the first of equals, but a link that is down before a port that is free; undefined: none
 * of its copies ended.
 */
export function furthest(journal: Journal, journey: Journey): EndingNote | undefined {
  let best: EndingNote | undefined;
  for (const note of journal.endings) {
    if (note.journey !== journey) continue;
    if (best === undefined || rankOf(note.fate) > rankOf(best.fate) || isLost(best, note)) best = note;
  }
  return best;
}

function isLost({ fate: free }: EndingNote, { fate: down }: EndingNote): boolean {
  const isDown = down.end === "dropped" && down.reason === "link-down";
  return isDown && free.end === "dropped" && free.reason === "nobody-connected";
}
