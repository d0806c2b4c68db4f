/**
 * Questions to a network: what it can become, how an exchange goes in all outcomes, and proofs over all packets with
 * every witness replayed. The only folder that knows both engines.
 */
export { Changes } from "./changes.ts";
export type { ConfirmedProof } from "./confirmed.ts";
export { directoryOf } from "./directory.ts";
export { EnginesDisagree, ToldDisagreement } from "./disagree.ts";
export {
  Evaluation,
  type Work,
} from "./evaluation.ts";
export { type GoingOn, keyOf, type Outcome } from "./exchange.ts";
export { eachPartOnce, type FailingPart, partKey, partsOf } from "./failing.ts";
export { Footprint } from "./footprint.ts";
export { settledStack } from "./holders.ts";
export { leaseLinesOf } from "./lease-lines.ts";
export { ledBetween } from "./led.ts";
export { nextOutcomes, type OpenChoice, openIn, takenOf } from "./left-open.ts";
export { joinedLooks, type LookBook, type Looks } from "./looks.ts";
export { momentOf } from "./moment.ts";
export { openWaysOf, unaskedIn } from "./open-ways.ts";
export type { ProverMaker } from "./proving.ts";
export {
  addressTarget,
  guestLinksOf,
  homesOf,
  isOneAddress,
  type ReachEnd,
  sendersOf,
  startOf,
  targetOf,
} from "./reach.ts";
export { type Disagreement, UNTRIED } from "./replay.ts";
export { type Contest, contestsOf } from "./starting/contests.ts";
export { needsOf } from "./starting/needs.ts";
export { circlesOf, type Order, ordersFor, shorterThan, twoSteps } from "./starting/orders.ts";
export { type Start, Starts } from "./starting/starts.ts";
export { unseenIn } from "./unseen.ts";
export { Wiring } from "./wiring.ts";
export { runWitness } from "./witness-run.ts";
export type { WitnessStage } from "./witness-stage.ts";
export type { World, Worlds } from "./worlds.ts";
