/**
 * A prover: one settled site and the private indexes that questions about it share.
 */
import type { Network, Settled } from "../network/index.ts";
import type { Proof, Question } from "./question.ts";

/** Answers questions about one settled site. Indexes are kept between questions; they never change an answer. */
export class Prover {
  readonly #network: Network;

  constructor(network: Network, settled: Settled) {
    this.#network = network;
    void settled;
  }

  /** Moves every packet of the question at once and says what becomes of all of them. */
  prove(question: Question): Proof {
    throw new Error(`not yet: ${this.#network.format} ${question.entrances.length}`);
  }
}

/** A prover for a settled site. */
export function createProver(network: Network, settled: Settled): Prover {
  return new Prover(network, settled);
}

/** Answers one question. */
export function prove(network: Network, settled: Settled, question: Question): Proof {
  return createProver(network, settled).prove(question);
}
