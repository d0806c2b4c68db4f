/**
 * Spanning tree BPDUs (IEEE 802.1D-2004 clause 9, from memory): configuration, topology change notification and rapid
 * spanning tree, carried over LLC 42 42 03 to 01:80:c2:00:00:00. Times are in units of 1/256 second.
 */
import type { Hardware } from "../address/index.ts";

/** Flag: topology change. */
export const BPDU_TOPOLOGY_CHANGE = 0x01;
/** Flag of the rapid protocol: proposal. */
export const BPDU_PROPOSAL = 0x02;
/** Port role of the rapid protocol, bits 2 and 3: 1 alternate or backup, 2 root, 3 designated. */
export const BPDU_ROLE_MASK = 0x0c;
/** Flag of the rapid protocol: learning. */
export const BPDU_LEARNING = 0x10;
/** Flag of the rapid protocol: forwarding. */
export const BPDU_FORWARDING = 0x20;
/** Flag of the rapid protocol: agreement. */
export const BPDU_AGREEMENT = 0x40;
/** Flag: topology change acknowledged. */
export const BPDU_ACKNOWLEDGMENT = 0x80;

/** A bridge as the tree compares it: priority first, then address. */
export type BridgeIdentifier = {
  /** 16 bits; the upper four are settable in steps of 4096. */
  readonly priority: number;
  /** The bridge's hardware address. */
  readonly hardware: Hardware;
};

/** The message of a tree's designated bridge. */
export type TreeBpdu = {
  /** `config` is version 0, type 0; `rapid` is version 2, type 2. */
  readonly kind: "config" | "rapid";
  /** Bit set of `BPDU_` constants. */
  readonly flags: number;
  /** The root as the sender knows it. */
  readonly root: BridgeIdentifier;
  /** Cost of the sender's path to the root. */
  readonly rootPathCost: number;
  /** The sender. */
  readonly bridge: BridgeIdentifier;
  /** Port identifier, 16 bits: 4 of priority, 12 of number. */
  readonly port: number;
  /** Age since the root spoke, in 1/256 s. */
  readonly messageAge: number;
  /** Age at which the message dies, in 1/256 s. */
  readonly maxAge: number;
  /** Time between messages of the root, in 1/256 s. */
  readonly helloTime: number;
  /** Time in listening and in learning, in 1/256 s. */
  readonly forwardDelay: number;
};

/** One BPDU. */
export type Bpdu =
  | TreeBpdu
  | {
      /** Version 0, type 0x80: something changed, told towards the root. */
      readonly kind: "topology-change";
    };
