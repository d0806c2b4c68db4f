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
  /** It keeps an outside endpoint for an inside one, and no connection that was known before does so for both. */
  readonly maps?: true;
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

/** A set of packets at a step of a stack. Hot: all of them have every field, since copies of one shape cost a fraction. */
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
  readonly ingress: Leg | undefined;
  /** Set by `route`. */
  readonly egress: Leg | undefined;
  /** Key of the next hop; absent: the destination itself. */
  readonly via: bigint | undefined;
  /** Who takes them on the egress link, set by `neighbour`. */
  readonly heirs: readonly Leg[] | "unowned" | undefined;
  /** They wait until the heir has answered a question for it. */
  readonly waits: boolean;
  /** To the stack itself: turns round when it is transmitted. */
  readonly turns: true | undefined;
  /** Set by `track`. */
  readonly connection: Connection | undefined;
  /** Connections they rest on. */
  readonly uses: Use | undefined;
  /** Stacks passed on the way here, latest first. */
  readonly visits: Visit | undefined;
  /** Stacks on the way that tracked them and knew no connection that they belong to. */
  readonly strangers: Stranger | undefined;
  /** They are errors that quote a packet of the connection they rest on. */
  readonly quotes: true | undefined;
  /** How many stacks were passed. */
  readonly depth: number;
  /** False for packets that only begin connections: nobody asked about them. */
  readonly counts: boolean;
  /** They go to the target by their own destination; others get there only as part of a connection. */
  readonly aimed: boolean;
  /** They reached the target before; where they end does not matter. */
  readonly arrived: boolean;
  /** They passed a rule of which nobody knows what it does. */
  readonly doubt: Doubt | undefined;
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

/** Where packets are. */
type Stand = {
  readonly node: Node;
  readonly steps: readonly Step[];
  readonly next: number;
  readonly ingress: Leg | undefined;
};

/** Packets that begin at a step of a stack, or come in there. */
export function passageAt(
  { node, steps, next, ingress }: Stand,
  come: Omit<Passage, keyof Stand | "egress" | "via" | "heirs" | "waits" | "turns" | "connection">,
): Passage {
  return {
    node,
    steps,
    next,
    flow: come.flow,
    trail: come.trail,
    sent: come.sent,
    ingress,
    egress: undefined,
    via: undefined,
    heirs: undefined,
    waits: false,
    turns: undefined,
    connection: undefined,
    uses: come.uses,
    visits: come.visits,
    strangers: come.strangers,
    quotes: come.quotes,
    depth: come.depth,
    counts: come.counts,
    aimed: come.aimed,
    arrived: come.arrived,
    doubt: come.doubt,
  };
}

/** What packets carry that were just sent. */
export const FRESH = {
  uses: undefined,
  visits: undefined,
  strangers: undefined,
  quotes: undefined,
  doubt: undefined,
} as const;

/** The same packets at the next step. */
export function onward(passage: Passage, flow: Flow = passage.flow, trail: Trail = passage.trail): Passage {
  const next = copied(passage);
  next.flow = flow;
  next.trail = trail;
  next.next++;
  return next;
}

/** Some packets of a set, or as they have become. */
export function withFlow(passage: Passage, flow: Flow, trail: Trail = passage.trail): Passage {
  const copy = copied(passage);
  copy.flow = flow;
  copy.trail = trail;
  return copy;
}

/** The same packets, some of what is known of them otherwise. */
export function having(passage: Passage, fields: Partial<Passage>): Passage {
  return Object.assign(copied(passage), fields);
}

type Writable<Fields> = { -readonly [Key in keyof Fields]: Fields[Key] };

/** Hot: it costs a tenth of a spread, which is slow where there are so many fields. */
function copied(passage: Passage): Writable<Passage> {
  return {
    node: passage.node,
    steps: passage.steps,
    next: passage.next,
    flow: passage.flow,
    trail: passage.trail,
    sent: passage.sent,
    ingress: passage.ingress,
    egress: passage.egress,
    via: passage.via,
    heirs: passage.heirs,
    waits: passage.waits,
    turns: passage.turns,
    connection: passage.connection,
    uses: passage.uses,
    visits: passage.visits,
    strangers: passage.strangers,
    quotes: passage.quotes,
    depth: passage.depth,
    counts: passage.counts,
    aimed: passage.aimed,
    arrived: passage.arrived,
    doubt: passage.doubt,
  };
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
