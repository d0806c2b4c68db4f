/**
 * A traced exchange: how one request and its answer went, in words, with the lines that decided.
 */
import type { Pick } from "../network/index.ts";
import type { Evidence, Told } from "./verdict.ts";

/** One run of an exchange. */
export type Traced = {
  /** Who begins. */
  readonly from: string;
  /** Who is meant. */
  readonly to: string;
  /** On what. */
  readonly service: string;
  /** Address tried; empty when there was none to try. */
  readonly address: string;
  /** True when the exchange came to its end. */
  readonly works: boolean;
  /** What became of it, in a sentence. */
  readonly sentence: string;
  /** The request's way. */
  readonly path: readonly Told[];
  /** The answer's way. */
  readonly answerPath: readonly Told[];
  /** Deciding lines, the primary one first; empty when it works. */
  readonly decidedBy: readonly Evidence[];
  /** Options under which it is so. */
  readonly picks: readonly Pick[];
};
