/**
 * What all parts of the engine share while frames move: the site, the time, what was remembered, and the verbs by
 * which one part hands over to another. The verbs are bound in `simulation.ts`; no part imports one above it.
 */
import type { Address, Hardware } from "../address/index.ts";
import type { ConnectionState, Id, Notes, Step } from "../network/index.ts";
import type { Direction, NeighbourState } from "../protocol/index.ts";
import type { Bpdu, Frame, IpPacket, Lacpdu } from "../wire/index.ts";
import type { AddressTable } from "./address-table.ts";
import type { ConnectionTable, Tracked } from "./connection-table.ts";
import type { EventQueue } from "./event-queue.ts";
import type { Flight, Journal, Journey, Trail } from "./journal.ts";
import type { MappingTable } from "./mappings.ts";
import type { PacketView } from "./packet-view.ts";
import type { PickBook } from "./picks.ts";
import type { BridgePlan, BridgePortPlan, InterfacePlan, Plan, StackPlan } from "./plan.ts";
import type { CaptureSink, StandIn, Tally } from "./results.ts";

/** One entry of a neighbour cache and the packets that wait for it. */
export type NeighbourEntry = {
  /** Of the machine. */
  state: NeighbourState;
  /** In the order of their coming. */
  readonly waiting: Passage[];
  /** The latest question, to explain why nobody answered. */
  asked: Journey | undefined;
  /** Takes back the timer that waits. */
  cancel: (() => void) | undefined;
};

/** A TCP connection at the side that was asked for it. */
export type Socket = {
  /** Largest payload that the peer takes, in bytes. */
  readonly segmentSize: number;
  /** The data segment last sent, to be sent again in smaller pieces when it did not fit. */
  sent: IpPacket | undefined;
};

/** What one stack remembers. */
export type StackMemory = {
  /** Tracked connections. */
  readonly connections: ConnectionTable;
  /** Outside endpoints, where the stack maps endpoints. */
  readonly mappings: MappingTable;
  /** By interface id and address key. */
  readonly neighbours: Map<Id, Map<bigint, NeighbourEntry>>;
  /** Fragments of packets that are not whole yet. */
  readonly fragments: Map<string, IpPacket[]>;
  /** TCP connections that the stack accepted, by the text of their tuple as its answers go. */
  readonly sockets: Map<string, Socket>;
};

/** A step with this operation. */
export type StepOf<Op extends Step["op"]> = Step & {
  /** The operation. */
  readonly op: Op;
};

/** Who began a packet: a program of the stack that is told of local faults, or the stack itself. */
export type Begun = "program" | "answer" | "error" | "discovery";

/** A packet on its way through one stack. */
export type Passage = {
  /** The stack. */
  readonly stack: StackPlan;
  /** The packet's journey. */
  readonly journey: Journey;
  /** Its steps so far. */
  trail: Trail;
  /** As it is now. */
  packet: IpPacket;
  /** Where it came in; undefined: begun here or turned round. */
  readonly ingress: InterfacePlan | undefined;
  /** It came in a frame for a group of stations. */
  readonly isGroupFrame: boolean;
  /** Undefined for what came in from outside. */
  readonly begun: Begun | undefined;
  /** It left this stack and came back to it at once. */
  readonly isTurned: boolean;
  /** By which interface the stack hears what it sent to everyone itself; undefined: nothing of the kind. */
  readonly heardBy: InterfacePlan | undefined;
  /** The steps it is going through, and the next one. */
  steps: readonly Step[];
  /** Index of the next step. */
  next: number;
  /** Set by `route`; `isOwn`: to one of the stack's own addresses, or a group it hears. */
  egress: InterfacePlan | undefined;
  /** Bound to this interface, most often from the start. */
  boundEgress: InterfacePlan | undefined;
  /** The interface that decides between routes of one prefix and metric, for the first way that is looked up. */
  near: InterfacePlan | undefined;
  /** The way out as its `from` list sees it, where its destination was put back only then; undefined: as it is. */
  outBefore: { readonly leg: InterfacePlan | undefined } | undefined;
  /** The step `route` is behind it. */
  isRouted: boolean;
  /** To the stack itself. */
  isOwn: boolean;
  /** Set by `route`; undefined: the destination itself. */
  nextHop: Address | undefined;
  /** Set by `neighbour`. */
  hardware: Hardware | undefined;
  /** Set by `track`. */
  tracked: Tracked | undefined;
  /** Direction in its connection. */
  direction: Direction;
  /** What tracking says of it; undefined: not asked yet. */
  state: ConnectionState | undefined;
  /** Ends that are as the connection says. */
  isSourcePaid: boolean;
  /** The destination is as the connection says. */
  isDestinationPaid: boolean;
  /** Fields for conditions, and the packet they were read from. */
  readonly view: PacketView;
  /** The packet that `view` was read from. */
  viewed: IpPacket | undefined;
};

/** Who is told of packets that arrive at stacks: the exchange that is being watched. */
export type Watcher = {
  /** Takes a packet that is for it; false: it is for nobody it knows. */
  readonly hears: (passage: Passage) => boolean;
  /** A packet of a program never left its stack. */
  readonly fails: (passage: Passage) => void;
  /** Takes a frame that comes in by an interface, before its stack sees it; false: it goes on to the stack. */
  readonly taps: (leg: InterfacePlan, frame: Frame, flight: Flight) => boolean;
  /** Stacks that a packet to everyone on a link concerns; undefined: all of them. */
  readonly concerns: (packet: IpPacket) => readonly StackPlan[] | undefined;
};

/** Who is told of frames by which the link layer arranges itself. */
export type ControlListener = {
  /** One of LACP came to a member of a bond. */
  readonly lacpdu: (port: Id, lacpdu: Lacpdu) => void;
  /** One of the spanning tree came to a port of a bridge that runs one. */
  readonly bpdu: (bridgePort: Id, bpdu: Bpdu) => void;
  /** Whether one of the spanning tree, with this tag, comes to a port of a bridge that passes it on for the first time. */
  readonly isNew: (bridgePort: Id, vlan: number | undefined, bpdu: Bpdu) => boolean;
};

/** An order to begin a packet at a stack. */
export type SendOrder = {
  /** The sender. */
  readonly stack: StackPlan;
  /** As it begins. */
  readonly packet: IpPacket;
  /** Its journey. */
  readonly journey: Journey;
  /** Who begins it. */
  readonly begun: Begun;
  /** Bound to this interface. Default: by the routes. */
  readonly egress?: InterfacePlan | undefined;
  /** The interface that decides between routes of one prefix and metric. Default: the first of these routes. */
  readonly near?: InterfacePlan | undefined;
  /** What led to it. Default: nothing. */
  readonly trail?: Trail;
  /** Next hop known from the start, for answers on the link. */
  readonly hardware?: Hardware | undefined;
  /** The connection of the packet that this one is about. */
  readonly about?: { readonly tracked: Tracked; readonly direction: Direction } | undefined;
};

/** The engine's surroundings. */
export type World = {
  /** The site. */
  readonly plan: Plan;
  /** Decides what is open. */
  readonly picks: PickBook;
  /** Gets every frame. */
  readonly capture: CaptureSink | undefined;
  /** Neighbours taken to exist. */
  readonly standIns: readonly StandIn[];
  /** What is to happen. */
  readonly queue: EventQueue;
  /** Is told what is looked at. */
  readonly notes: Notes;
  /** Counts what happened. */
  readonly tally: Tally;
  /** What bridges learned. */
  readonly tables: Map<BridgePlan, AddressTable>;
  /** Where a bridge heard a station before all that was written down, by VLAN; undefined: it did not. */
  readonly findStation: (bridge: BridgePlan, vlan: number, hardware: Hardware) => BridgePortPlan | undefined;
  /** Bridges forget at once whom they heard. */
  readonly forgets: boolean;
  /** What stacks remember. */
  readonly memories: Map<StackPlan, StackMemory>;
  /** What was written down since the question began. */
  readonly journal: Journal;
  /** Virtual time. */
  nowUs: number;
  /** The exchange that is being watched; its client takes what is for it. */
  watcher: Watcher | undefined;
  /** Hears what the link layer says; undefined: nobody does. */
  control: ControlListener | undefined;
  /** Answers and errors come when nobody asks any more: none is sent. */
  answersLate: boolean;
  /** Counts up, for identification fields. */
  identification: number;
  /** Puts a frame out by an interface. */
  readonly emit: (leg: InterfacePlan, frame: Frame, flight: Flight) => void;
  /** An interface takes a frame in. */
  readonly takeIn: (leg: InterfacePlan, frame: Frame, flight: Flight) => void;
  /** Begins a packet at a stack. */
  readonly send: (order: SendOrder) => void;
  /** Lets a waiting packet go on, or end. */
  readonly resume: (passage: Passage) => void;
  /** Ends a waiting packet: nobody answered. */
  readonly giveUp: (passage: Passage, asked: Journey | undefined) => void;
};
