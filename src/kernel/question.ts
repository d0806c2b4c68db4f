/**
 * What an assertion asks, in terms that both a kernel and the simulator can answer.
 */
import type { Address } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import type { World } from "../evaluate/index.ts";
import type { FateClass, Id } from "../network/index.ts";
import type { ProbeRequest } from "../simulate/index.ts";

/** One assertion's questions. */
export type KernelQuestion = {
  /** Name of the assertion. */
  readonly name: string;
  /** Where it stands. */
  readonly at: Span;
  /** Exchanges, each of a source with a target. */
  readonly exchanges: readonly KernelExchange[];
  /** Ids of interfaces whose leases are looked at. */
  readonly leases: readonly Id[];
  /** Packets that are sent as they are. */
  readonly packets: readonly KernelPacket[];
};

/** One exchange, as it is asked in each world that the documents leave open. */
export type KernelExchange = {
  /** Who asks whom for what, as people know them. */
  readonly label: string;
  /** On-demand links that are up for it: those of stand-in clients. */
  readonly up: readonly Id[];
  /** One request for each address that is tried in a world. */
  readonly requests: readonly { readonly world: World; readonly request: ProbeRequest }[];
};

/** A packet made by hand, with what must be sent before it. */
export type KernelPacket = {
  /** Who sends whom what. */
  readonly label: string;
  /** On-demand links that are up for it. */
  readonly up: readonly Id[];
  /** The world it is meant in. */
  readonly world: World;
  /** The class whose witness it is. */
  readonly claimed: FateClass;
  /** Sent there instead of where the witness says. */
  readonly destination?: Address;
};
