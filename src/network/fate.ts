/**
 * What becomes of a packet, step by step: the language in which both engines answer.
 */
import type { Address } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Id } from "./entry.ts";
import type { Alternatives, NameField, NumberField } from "./match.ts";
import type { Pick } from "./settled.ts";
import type { DropReason } from "./stack.ts";

/** How a packet ended. */
export type Fate = {
  /** Stack, bridge or attachment where it ended. */
  readonly at: Id;
  /** The line that decided. */
  readonly origin: Origin;
} & (
  | { readonly end: "delivered" }
  /** Put on a segment, or out of an upstream port, that belongs to the target. */
  | { readonly end: "on-segment" }
  | {
      readonly end: "dropped";
      /** Why. */
      readonly reason: DropReason;
    }
  | {
      readonly end: "refused";
      /** Why. */
      readonly reason: DropReason;
      /** The error that was sent; absent: a TCP reset. */
      readonly icmp?: { readonly type: number; readonly code: number };
      /** Source address of that answer. */
      readonly from?: Address;
    }
  | { readonly end: "looped" }
  | {
      readonly end: "unknown";
      /** What the document says of it. */
      readonly note: string;
    }
);

/** One step of a path, in both engines the same words for the same event. */
export type PathStep = {
  /** Device part where it happened. */
  readonly at: Id;
  /** What happened: a step's `op`, or `enter`, `leave`, `ask`, `answer`. */
  readonly did: string;
  /** The line that decided it. */
  readonly origin: Origin;
  /** Interfaces, VLAN, rule id and the like, as short text for the trace; empty: none. */
  readonly detail: string;
};

/** One packet in numbers: values of fields; names for the rest. */
export type Witness = {
  /** Values of number fields; a field that is missing does not matter. */
  readonly numbers: readonly (readonly [field: NumberField, value: bigint])[];
  /** Values of name fields. */
  readonly names: readonly (readonly [field: NameField, value: string])[];
  /** VLANs of all tags of its frame, outermost first, where there are several; absent: the one of `vlan`, or none. */
  readonly tags?: readonly number[];
  /** Its frame belongs to a PPPoE session; absent: it is a bare one. */
  readonly session?: true;
  /** Of an ICMP error, whom the packet was sent to that it is about, as an address key; absent: it quotes none. */
  readonly about?: bigint;
};

/** A packet that is sent before another one. */
export type EarlierPacket = {
  /** The attachment it enters at, or the stack that sends it. */
  readonly sentAt: Id;
  /** The packet. */
  readonly witness: Witness;
  /** Seconds that pass before it is sent; absent: none. */
  readonly waits?: number;
};

/** A set of packets that share a fate. */
export type FateClass = {
  /** The packets as they were sent. */
  readonly packets: Alternatives;
  /** What they share. */
  readonly fate: Fate;
  /** The witness's way. */
  readonly path: readonly PathStep[];
  /** Options under which it is so; empty: none was needed. */
  readonly picks: readonly Pick[];
  /** One packet of the class. */
  readonly witness: Witness;
  /** The attachment it enters at, or the stack that sends it. */
  readonly sentAt: Id;
  /** Packets that must be sent first, in order, for the witness to have its fate (forged state); usually empty. */
  readonly before: readonly EarlierPacket[];
  /** Seconds that pass before the witness is sent, the others being sent: so long that something is forgotten; absent: none. */
  readonly waits?: number;
  /** Packets that share the fate only where others come before them, and that are told here for want of an example; absent: none. */
  readonly others?: Alternatives;
  /** Examples to take instead, in order, where the earlier packets of the witness do more than begin its connections; absent: none. */
  readonly spare?: readonly FateExample[];
};

/** One packet of a class, with all that is told of it alone. */
export type FateExample = Omit<FateClass, "packets" | "fate" | "others" | "spare">;

/** Outcome of one exchange, one type for simulator and kernel. */
export type ProbeOutcome = {
  /** `answered`: the exchange came to its end; `reset`, `refused`: turned away; `silent`: no answer; `local-error`: never left. */
  readonly end: "answered" | "reset" | "refused" | "silent" | "local-error";
  /** Where the request arrived, as it looked there. */
  readonly arrivals: readonly Arrival[];
  /** The ICMP error that came back. */
  readonly refusal?: { readonly type: number; readonly code: number; readonly from: Address };
  /** TCP only: a data segment went each way. */
  readonly dataFlowed?: boolean;
};

/** A request at its far end. */
export type Arrival = {
  /** Id of the device whose stack it reached. */
  readonly device: Id;
  /** As it was there, translations done. */
  readonly source: Address;
  /** As it was there, translations done. */
  readonly destination: Address;
  /** Source and destination port; absent where the protocol has none. */
  readonly ports?: readonly [number, number];
};
