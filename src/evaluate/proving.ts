/**
 * What proves, as an evaluation asks it, and a world with something plugged in.
 */
import type { FateClass, Id, Network, Notes, Settled } from "../network/index.ts";
import type { AtRest, Between, Common, LinkAnswer, Pairs, Proof, Question, Translating } from "../prove/index.ts";

/** What proves; the simulator is never exchanged, since it judges. */
export type Proving = {
  /** Answers one question about a settled site; `notes` is told what that rests on. */
  readonly prove: (question: Question, notes: Notes) => Proof;
  /** The smallest packet that reaches the target; undefined: none does. Absent: nothing compares them. */
  readonly smallest?: (question: Question) => FateClass | undefined;
  /** Who can begin something with whom, all pairs at once; undefined: it takes too many steps. Absent: nobody can tell. */
  readonly between?: (asked: Between) => Pairs | undefined;
  /** What the link layer says of some places; absent: nobody can tell. */
  readonly linkAt?: (ids: readonly Id[]) => LinkAnswer;
  /** What all its answers rest on; absent: nobody knows. */
  readonly common?: Common;
  /** What translations do to addresses; absent: nobody knows. */
  readonly translating?: Translating;
};

/** Makes what proves, for a site at rest. */
export type ProverMaker = (network: Network, settled: Settled) => Proving;

/** A world with something plugged in. */
export type PluggedWorld = AtRest & {
  /** What every proof there rests on. */
  readonly common: Common | undefined;
  /** What translations do to addresses there. */
  readonly translating: Translating | undefined;
  /** What its link layer says of some places. */
  readonly linkAt: (ids: readonly Id[]) => LinkAnswer | undefined;
};
