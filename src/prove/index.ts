/**
 * The engine that moves whole sets of packets: does any packet from here reach there, which, and what stops the rest.
 *
 * A set of packets is a *box* (a product of ranges over the fields of a packet, one small universe per family and kind of
 * protocol). Boxes walk: the *link layer* first, as directed reach over attachments and tags that the sender chooses;
 * then *stacks*, step by step in the order that the description gives, split by rules, routes and states. A rewritten
 * field is a new variable, so that every class can be given as it was sent. Connections that the sender can begin are
 * kept as sets too, and forged answers and errors of them walk until nothing new appears.
 *
 * Sound: a packet that can get through is never missed; where that would take more than the step limit, the answer
 * is `undecided` with the limit.
 */
export { type Asked, bothAsked } from "./asked.ts";
export type { Beginner, Between, Pairs, Way } from "./between.ts";
export { type Box, boxesOf, boxesWithout, boxHolds, matchOf } from "./box.ts";
export {
  ANY_TAGS,
  type BridgeExit,
  type BridgeReach,
  type BridgeStop,
  bridgeReach,
  type Domain,
  type TagSet,
} from "./bridge.ts";
export {
  DESTINATION,
  ICMP_TYPE,
  PROTOCOL,
  SOURCE,
} from "./fields.ts";
export type { LinkAnswer } from "./link-answer.ts";
export { type AtRest, pluggedIn } from "./plug.ts";
export { type Common, createProver, type Prover } from "./prover.ts";
export { type Proof, type Question, STEP_LIMIT, type Target } from "./question.ts";
export { ledFrom, relevantAmong, type SentTo, type Translating } from "./relevant.ts";
export { routesTo } from "./routes.ts";
export { type ServiceSet, sameServices, servicesOf, tellServices, unionServices } from "./services.ts";
export { type Shadowed, shadowedIn } from "./shadowed.ts";
export { type FilterPiece, type RoutePiece, splitFilter, splitRoutes } from "./single-steps.ts";
export { ERRORS } from "./tracking.ts";
