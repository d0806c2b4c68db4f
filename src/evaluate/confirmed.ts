/**
 * Proofs whose witnesses were replayed, and what is made of several.
 */
import type { FateClass, Id } from "../network/index.ts";
import type { Proof, Question } from "../prove/index.ts";

/** A proof whose every witness met the fate it claims. */
export type ConfirmedProof = Proof & {
  /** How many witnesses were replayed. */
  readonly replayed: number;
  /** Classes of what is stopped that no example shows, since that would take too many tries: `UNTRIED`. */
  readonly untried: readonly FateClass[];
};

/** Both proofs as one: what reaches in either reaches; the second got further, if any did. */
export function joined(first: ConfirmedProof, second: ConfirmedProof): ConfirmedProof {
  const nearest = second.nearest ?? first.nearest;
  const undecided = first.undecided ?? second.undecided;
  return {
    reached: [...first.reached, ...second.reached],
    permitted: [...first.permitted, ...second.permitted],
    stopped: [...first.stopped, ...second.stopped],
    ...(nearest === undefined ? {} : { nearest }),
    ...(undecided === undefined ? {} : { undecided }),
    looked: [...new Set([...first.looked, ...second.looked])].sort(),
    steps: first.steps + second.steps,
    replayed: first.replayed + second.replayed,
    untried: [...first.untried, ...second.untried],
  };
}

/** The same question about one place. */
export function onlyAt(question: Question, at: Id): Question {
  return {
    ...question,
    entrances: question.entrances.filter((each) => each === at),
    senders: question.senders.filter(({ stack }) => stack === at),
  };
}
