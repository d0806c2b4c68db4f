/**
 * What the simulator is asked and what it answers: plain records, in the words of `network/fate.ts`.
 */
import type { Address } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type {
  Awaits,
  Binding,
  Choice,
  Fate,
  Id,
  Notes,
  PathStep,
  Pick,
  ProbeOutcome,
  SegmentPoint,
  Undelegated,
} from "../network/index.ts";
import type { Frame, IpPacket } from "../wire/index.ts";

/** A neighbour that is taken to exist on the segment of an interface: asking for it succeeds at once. */
export type StandIn = {
  /** The interface that would ask. */
  readonly interface: Id;
  /** The address asked for. */
  readonly address: Address;
};

/** Where captured frames go: every frame, once, where it is put on a link. */
export type CaptureSink = {
  /** `point` is the link's id, or the attachment where a frame was injected; microseconds of virtual time. */
  readonly frame: (point: Id, atUs: number, frame: Frame) => void;
};

/** What a simulation is made with. */
export type SimulationOptions = {
  /** Options to take where the site leaves something open; elsewhere the first one, or for a bond its hash. */
  readonly picks?: readonly Pick[];
  /** Neighbours taken to exist. */
  readonly standIns?: readonly StandIn[];
  /** Bridges know where every station is, as if each had spoken to everyone once. Default: they know of nobody. */
  readonly learned?: boolean;
  /** Bridges forget at once whom they heard, so that every frame goes everywhere. Default: they remember. */
  readonly forgets?: boolean;
  /** Gets every frame. */
  readonly capture?: CaptureSink;
  /** Events after which a run is given up as looping. Default: 1 000 000. */
  readonly limitEvents?: number;
  /** Counts events; several simulations may share one. Default: they are not counted. */
  readonly tally?: Tally;
  /** Is told what is looked at. Default: nobody is. */
  readonly notes?: Notes;
};

/** Counted work: the same on every machine. */
export type Tally = {
  /** Events so far. */
  events: number;
};

/** What is exchanged: `port` for TCP, UDP and SCTP, `icmp` for ICMP and ICMPv6 (default: echo request). */
export type ProbeService = {
  /** Protocol number. */
  readonly protocol: number;
  /** Destination port. */
  readonly port?: number;
  /** Type and code of the request. */
  readonly icmp?: { readonly type: number; readonly code: number };
};

/** One exchange. */
export type ProbeRequest = {
  /** Id of the stack that begins it. */
  readonly from: Id;
  /** Address it is bound to. Default: as the stack selects. */
  readonly source?: Address;
  /** Interface it is bound to. Default: as the routes say. */
  readonly egress?: Id;
  /** Where to. */
  readonly destination: Address;
  /** What is exchanged. */
  readonly service: ProbeService;
  /** Default: 40000, counting up with each probe of a simulation. */
  readonly sourcePort?: number;
  /** Bytes of the request (UDP, ICMP) or of the data segments (TCP) as IP packets. Default: small. */
  readonly size?: number;
  /** Stop when the request arrived; nothing is said of the answer. Default: false. */
  readonly untilArrival?: boolean;
};

/** How an exchange went. */
export type ProbeResult = {
  /** The request as it was sent. */
  readonly request: IpPacket;
  /** As a kernel would tell it. */
  readonly outcome: ProbeOutcome;
  /** The request's way; when it opened and then stalled on the way there, the way of the segment that was lost. */
  readonly path: readonly PathStep[];
  /** The answer's way, likewise; empty when there was none. */
  readonly answerPath: readonly PathStep[];
  /** What became of the request. */
  readonly fate: Fate;
  /** What became of the answer; absent when there was none. */
  readonly answerFate?: Fate;
  /** It opened, then data did not flow. */
  readonly stalls?: boolean;
  /** Options taken of choices met, in the order met. */
  readonly picksUsed: readonly Pick[];
  /** Lines that decided, the primary one first. */
  readonly decidedBy: readonly Origin[];
};

/** How something descends from what was sent: itself in any form, its answer, an error about it, a question for a neighbour. */
export type Descent = "sent" | "answer" | "error" | "discovery";

/** One end of one copy. */
export type Ending = {
  /** How it descends from what was sent. */
  readonly descent: Descent;
  /** The end. */
  readonly fate: Fate;
  /** Its way there. */
  readonly path: readonly PathStep[];
  /** The frame's packet as it was where it ended; absent for frames without one. */
  readonly packet?: IpPacket;
};

/** A packet that reached a stack's `deliver` step, with whatever became of it there. */
export type StackArrival = {
  /** How it descends from what was sent. */
  readonly descent: Descent;
  /** Id of the stack. */
  readonly stack: Id;
  /** Interface it came in by; absent: from the stack itself. */
  readonly ingress?: Id;
  /** The packet as it arrived. */
  readonly packet: IpPacket;
  /** What the stack did with it. */
  readonly fate: Fate;
  /** Its way there. */
  readonly path: readonly PathStep[];
};

/** An IP packet that was on a segment. */
export type SegmentCrossing = {
  /** How it descends from what was sent. */
  readonly descent: Descent;
  /** The segment, as one device sees it. */
  readonly point: SegmentPoint;
  /** The packet as it was there. */
  readonly packet: IpPacket;
  /** Its way there. */
  readonly path: readonly PathStep[];
};

/** Everything that became of one frame or packet and of what descends from it. */
export type Injection = {
  /** Every end of every copy, in the order of events. */
  readonly endings: readonly Ending[];
  /** Arrivals at stacks, in the order of events. */
  readonly arrivals: readonly StackArrival[];
  /** Segments that IP packets were put on, in the order of events. */
  readonly segments: readonly SegmentCrossing[];
  /** Options taken of choices met, in the order met. */
  readonly picksUsed: readonly Pick[];
};

/** A client that got no lease. */
export type BindingFailure = {
  /** The interface that waits. */
  readonly interface: Id;
  /** What it waits for: a lease of IPv4, or an advertisement of IPv6. */
  readonly awaited: Awaits["from"];
  /** Deciding lines, the primary one first. */
  readonly because: readonly Origin[];
  /** A sentence fragment: "no server heard it". */
  readonly text: string;
  /** What the document says of the rule whose action nobody knows, where that decides. */
  readonly unknown?: string;
  /** It holds one that it got before and cannot use, since its link is down. Default: it holds none. */
  readonly holds?: true;
  /** Id of the server that heard it and had no address left to lend. Default: that was not why. */
  readonly exhausted?: Id;
};

/** What clients got when each asked once, in document order. */
export type Bindings = {
  /** Leases first, then advertised addresses, each in document order. */
  readonly bindings: readonly Binding[];
  /** Which of several servers answered first, where several did, and which of several advertisers was heard first. */
  readonly choices: readonly Choice[];
  /** Clients that got nothing, and interfaces whose prefix was not delegated. */
  readonly failures: readonly BindingFailure[];
  /** Prefixes that did not come. */
  readonly undelegated: readonly Undelegated[];
};
