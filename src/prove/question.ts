/**
 * What the prover is asked and what it answers: plain records. A question is about all packets at once: does any of
 * them get from where it may begin to the target, which, and what stops the rest.
 */
import type { Ranges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { AskedPackets, FateClass, Id, Party, SegmentPoint } from "../network/index.ts";

/** One question. */
export type Question = {
  /** Attachments where arbitrary frames enter: any source address, any hardware address, any tags. */
  readonly entrances: readonly Id[];
  /** Stacks that begin packets themselves, from the addresses of these interfaces. */
  readonly senders: readonly Party[];
  /** What may be sent: services, families, sources; `[[]]` for every packet. */
  readonly packets: AskedPackets;
  /** Packets that may get there, as they are where they get there; so may errors about them. Default: none. */
  readonly permitted?: AskedPackets;
  /** Where a packet must not, or shall, get to. */
  readonly target: Target;
  /** Steps of work after which the answer is `undecided`. Default: `STEP_LIMIT`. */
  readonly limitSteps?: number;
};

/** What counts as arriving. Each of the lists adds to it, except `stacks`. */
export type Target = {
  /** Address keys, owned or not: delivery to one counts, and so does putting a packet to one on the link where it would live. */
  readonly addresses: Ranges;
  /** Interfaces whose settled addresses count as if listed in `addresses`; link-local ones only where they came in by it. */
  readonly interfaces: readonly Id[];
  /**
   * Stacks where delivery to any of the addresses counts; empty: all. Elsewhere it counts at the address's owner: of
   * `interfaces`, and, where nothing upstream is meant, of `addresses`.
   */
  readonly stacks: readonly Id[];
  /** Segments: an IP packet put on one counts, whatever its destination. */
  readonly segments: readonly SegmentPoint[];
  /** Segments where `addresses` live: a packet to one of them counts where its frame enters such a segment. Default: none. */
  readonly homes?: readonly SegmentPoint[];
  /** Interfaces of upstreams: what is handed to one counts. */
  readonly upstreams: readonly Id[];
  /** Of what is handed to `upstreams`, packets to these addresses count. Default: all. */
  readonly beyond?: Ranges;
  /** Every address counts as if listed in `addresses`. Default: false. */
  readonly anyAddress?: boolean;
};

/** The answer. */
export type Proof = {
  /** The packets that reach the target, merged by where and by what they reach it; empty: none does. */
  readonly reached: readonly FateClass[];
  /** The packets that reach the target and may, merged likewise. */
  readonly permitted: readonly FateClass[];
  /** What became of the other packets that were on their way to the target, merged by what decided. */
  readonly stopped: readonly FateClass[];
  /**
   * The stopped class that got furthest: needing fewest earlier packets, then sent to one of the target's `addresses`, then
   * past most stacks, then most steps, then first found.
   */
  readonly nearest?: FateClass;
  /** Set when the answer would need more steps than the limit, or rests on something nobody knows. */
  readonly undecided?: {
    /** The step limit that was passed. */
    readonly limit?: number;
    /** What nobody knows. */
    readonly note?: string;
    /** Where that stands. */
    readonly origin?: Origin;
  };
  /** Parts that were looked at: the answer holds as long as these stay as they are. Sorted. */
  readonly looked: readonly Id[];
  /** Steps of work. */
  readonly steps: number;
};

/** Steps of work after which a question is given up as undecided, unless it says otherwise. */
export const STEP_LIMIT = 2_000_000;
