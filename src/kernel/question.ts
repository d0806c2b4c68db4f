/**
 * What an assertion asks, in terms that both a kernel and the simulator can answer.
 */
import type { Span } from "../diagnose/index.ts";
import type { World } from "../evaluate/index.ts";
import type { Id } from "../network/index.ts";
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
  /** What the assertion asks beside, which cannot be put to a kernel; absent: nothing. */
  readonly unasked?: string;
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
