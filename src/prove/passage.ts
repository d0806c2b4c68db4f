/**
 * A set of packets on its way through one stack, with everything that its later steps need to know.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Id, Notes, Pick, Step } from "../network/index.ts";
import type { Leg, Node } from "./atlas.ts";
import { EGRESS, INGRESS, NO_NAME, STATE, TRANSLATED } from "./fields.ts";
import type { Flow, Sight, View } from "./flow.ts";
import type { Trail } from "./trail.ts";

/** How packets were sent. */
export type Sent = {
  /** Attachment where they entered, or the stack that began them. */
  readonly at: Id;
  /** Tags on the frame, outermost first. */
  readonly tags: readonly number[];
  /** Hardware address that the frame goes to: of the first interface that took it; absent: a stack began the packets. */
  readonly towards?: bigint;
  /** The frame belongs to a PPPoE session, as the interface that takes it wants it; absent: it is a bare one. */
  readonly session?: true;
  /** Interface that a stack sends them by whatever its routes say; absent: by its routes. */
  readonly egress?: Id;
  /** For neighbours on the way that are found only because they asked first: for what they asked. */
  readonly met?: readonly Greeting[];
};

/** How a neighbour is found: by asking, by having been asked by it before, or not at all. */
export type Acquaintance =
  | {
      /** How. */
      readonly how: "asked" | "never";
    }
  | {
      /** It was asked by it. */
      readonly how: "heard";
      /** Packets for which that asked. */
      readonly greeting: Greeting;
    };

/** An acquaintance that is kept. */
export type Learned = {
  /** What was found. */
  readonly acquaintance: Acquaintance;
  /** What was looked at for it, told to notes one by one. */
  readonly told: readonly ((notes: Notes) => void)[];
};

/** Packets that somebody who hears no questions hands to a neighbour, and so has asked for it itself (kernel fact 12). */
export type Greeting = {
  /** The packets. */
  readonly flow: Flow;
  /** How they are sent. */
  readonly sent: Sent;
  /** Options that have to be taken for them. */
  readonly picks: readonly Pick[];
  /** Nobody knows whether they get so far. */
  readonly doubt?: Doubt;
};

/** A connection that its sender can begin at a stack: sets of tuples, as the first packet came and as it went on. */
export type Entry = {
  /** Where it is tracked. */
  readonly node: Node;
  /** The packets that begin it. */
  readonly flow: Flow;
  /** Fields when the stack began to track it. */
  readonly before: View;
  /** Fields when it was confirmed, addresses rewritten. */
  readonly after: View;
  /** Ends that were rewritten, as `translated` says it. */
  readonly translated: string;
  /** How these packets were sent. */
  readonly sent: Sent;
  /** Options that had to be taken on their way here. */
  readonly picks: readonly Pick[];
  /** Connections that these packets rest on themselves. */
  readonly uses?: Use;
  /** Nobody knows whether they got there. */
  readonly doubt?: Doubt;
};

/** A rule of which nobody knows what it does. */
export type Doubt = {
  /** What the document says of it. */
  readonly note: string;
  /** The rule. */
  readonly origin: Origin;
  /** The stack. */
  readonly at: Id;
};

/** That packets pass as part of a connection begun before: which of its variables equal which of theirs. */
export type Use = {
  /** The connection. */
  readonly entry: Entry;
  /** What they have in common. */
  readonly links: readonly Link[];
  /** Packets that all of these rest on, each counted for every other one that rests on it. */
  readonly rests: number;
  /** The next one they rest on. */
  readonly next?: Use;
};

/** A variable of a connection that has the value of one of the packet's. */
export type Link = {
  /** In the packets that begin the connection. */
  readonly theirs: Sight;
  /** In the packet that belongs to it. */
  readonly ours: Sight;
};

/** A rewriting that a connection still owes to a packet. */
export type Change = {
  /** Place of the field. */
  readonly field: number;
  /** Added to the field. */
  readonly plus?: bigint;
  /** Without `plus`: the variable that the field takes the value of, of the connection or, where they began it themselves, of the packets. */
  readonly from: Sight;
};

/** What tracking found. */
export type Connection =
  | {
      /** These packets begin it. */
      readonly kind: "fresh";
      /** Fields when tracking began. */
      readonly before: View;
      /** Ends whose table was asked. */
      readonly asked: readonly ("source" | "destination")[];
      /** Rewritings of the destination by a mapping, for what no rule translates; absent: none. */
      readonly owed?: readonly Change[];
    }
  | {
      /** These packets belong to one begun before. */
      readonly kind: "followed";
      /** Rewritings of the source that are still owed. */
      readonly source: readonly Change[];
      /** Rewritings of the destination that are still owed. */
      readonly destination: readonly Change[];
    };

/** A set of packets at a step of a stack. */
export type Passage = {
  /** The stack. */
  readonly node: Node;
  /** The sequence of steps they are in. */
  readonly steps: readonly Step[];
  /** Place of the next step. */
  readonly next: number;
  /** The packets. */
  readonly flow: Flow;
  /** Their way. */
  readonly trail: Trail;
  /** How they were sent. */
  readonly sent: Sent;
  /** Where they came in; absent: begun here, or turned round. */
  readonly ingress?: Leg;
  /** Set by `route`. */
  readonly egress?: Leg;
  /** Key of the next hop; absent: the destination itself. */
  readonly via?: bigint;
  /** Who takes them on the egress link, set by `neighbour`. */
  readonly heirs?: readonly Leg[] | "unowned";
  /** They wait until the heir has answered a question for it. */
  readonly waits?: boolean;
  /** To the stack itself: turns round when it is transmitted. */
  readonly turns?: true;
  /** Set by `track`. */
  readonly connection?: Connection;
  /** Connections they rest on. */
  readonly uses?: Use;
  /** Stacks passed on the way here, latest first. */
  readonly visits?: Visit;
  /** Stacks on the way that tracked them and knew no connection that they belong to. */
  readonly strangers?: Stranger;
  /** They are errors that quote a packet of the connection they rest on. */
  readonly quotes?: true;
  /** How many stacks were passed. */
  readonly depth: number;
  /** False for packets that only begin connections: nobody asked about them. */
  readonly counts: boolean;
  /** They go to the target by their own destination; others get there only as part of a connection. */
  readonly aimed: boolean;
  /** They reached the target before; where they end does not matter. */
  readonly arrived: boolean;
  /** They passed a rule of which nobody knows what it does. */
  readonly doubt?: Doubt;
};

/** A stack that knew no connection, latest first. */
export type Stranger = {
  /** The stack. */
  readonly node: Node;
  /** The one before. */
  readonly before?: Stranger;
};

/** One stack on the way. */
export type Visit = {
  /** Where they came in. */
  readonly leg: Leg;
  /** As they came in. */
  readonly flow: Flow;
  /** The one before. */
  readonly before?: Visit;
};

/** The same packets at the next step. */
export function onward(passage: Passage, flow: Flow = passage.flow): Passage {
  return { ...passage, flow, next: passage.next + 1 };
}

/** Name fields of packets that come in by an interface or begin at a stack. */
export function namesAt(ingress: Leg | undefined): Flow["names"] {
  const names: string[][] = [];
  names[INGRESS] = [ingress?.interface.id ?? NO_NAME];
  names[EGRESS] = [NO_NAME];
  names[STATE] = [NO_NAME];
  names[TRANSLATED] = [NO_NAME];
  return names;
}
