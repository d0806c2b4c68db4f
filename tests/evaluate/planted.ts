/**
 * Proofs that are wrong on purpose: what the simulator sees must show it.
 */

import type { ProverMaker } from "../../src/evaluate/index.ts";
import { createProver, type Proof } from "../../src/prove/index.ts";

/** A prover whose proofs are changed before anybody sees them. */
export function planting(change: (proof: Proof) => Proof): ProverMaker {
  return (network, settled) => {
    const prover = createProver(network, settled);
    return { prove: (question) => change(prover.prove(question)) };
  };
}

/** What reaches the target is said to be stopped where it arrives. */
export function hidesBreaches(proof: Proof): Proof {
  const hidden = proof.reached.map((found) => {
    const fate = { at: found.fate.at, origin: found.fate.origin, end: "dropped", reason: "filter" } as const;
    return { ...found, fate };
  });
  return { ...proof, reached: [], stopped: [...hidden, ...proof.stopped] };
}

/** What is stopped is said to be delivered. */
export function inventsBreaches(proof: Proof): Proof {
  const invented = proof.stopped.map((found) => {
    return { ...found, fate: { at: found.fate.at, origin: found.fate.origin, end: "delivered" } as const };
  });
  return { ...proof, reached: invented, stopped: [] };
}

/** What is stopped is said to be stopped for another reason. */
export function mistakesReasons(proof: Proof): Proof {
  const stopped = proof.stopped.map((found) => {
    return { ...found, fate: { at: found.fate.at, origin: found.fate.origin, end: "looped" } as const };
  });
  return { ...proof, stopped };
}

/** What is stopped is said to go round in a loop, too, once it was sent so many times before. */
export function loopsAfterOthers(proof: Proof, others: number): Proof {
  const [first] = proof.stopped;
  if (first === undefined) throw new Error("nothing is stopped");
  const { sentAt, witness, fate } = first;
  const before = Array.from({ length: others }, () => ({ sentAt, witness }));
  const looped = { ...first, fate: { at: fate.at, origin: fate.origin, end: "looped" } as const, before };
  return { ...proof, stopped: [...proof.stopped, looped] };
}
