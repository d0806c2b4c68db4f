/**
 * Questions to a network: what it can become, how an exchange goes in all outcomes, and proofs over all packets with
 * every witness replayed. The only folder that knows both engines.
 */
export { type ConfirmedProof, EnginesDisagree, Evaluation } from "./evaluation.ts";
export { OUTCOME_LIMIT, type Outcome } from "./outcomes.ts";
export type { Disagreement } from "./replay.ts";
export { frameOfWitness, packetOfWitness } from "./witness-frame.ts";
export { WORLD_LIMIT, type World, type Worlds } from "./worlds.ts";
