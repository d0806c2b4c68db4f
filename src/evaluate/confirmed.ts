/**
 * Proofs whose witnesses were replayed, and what is made of several.
 */
import type { Id } from "../network/index.ts";
import type { Proof, Question } from "../prove/index.ts";

/** A proof whose every witness met the fate it claims. */
export type ConfirmedProof = Proof & {
  /** How many witnesses were replayed. */
  readonly replayed: number;
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
