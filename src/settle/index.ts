/**
 * What a site becomes when it is left alone: which links have carrier, which bond members carry, what the spanning tree
 * blocks, where frames circle, which routes hold. `settle` answers that for one set of circumstances (picks, failures,
 * stations that come up); `withBindings` puts in what clients learned afterwards. Engines read `(Network, Settled)`.
 *
 * Guarantees: pure and deterministic; nothing in the network is changed; the same network settled again and again costs its
 * index once. What is open stands in `choices`, named after the part it concerns (`choiceId`).
 *
 * `domainMapOf` gives the graph of broadcast domains, with the line behind each edge and behind each missing one, and
 * `reachOf` walks it; `takerOf` says who takes a frame that arrives somewhere.
 *
 * ```ts
 * const settled = settle(network, { down: ["core:p1"] });
 * const mended = settle(network, { before: settled }); // what took over for core:p1 goes on where nothing returns
 * reachOf(domainMapOf(network, settled), { at: { kind: "interface", stack: "laptop", interface: "laptop/nic" }, domain: 0 });
 * ```
 */
export { isRouter } from "./anycast.ts";
export { withBindings } from "./bindings.ts";
export { carriedBond, settleBonds } from "./bonds.ts";
export { choiceId, equalPathChoice, makeChoice, taken } from "./choices.ts";
export { type Crossing, crossedAs } from "./crossings.ts";
export { darkened } from "./darkened.ts";
export {
  type DomainMap,
  type DomainPoint,
  domainMapOf,
  endId,
  reachOf,
} from "./domains.ts";
export { sendersOf, type Wires } from "./exits.ts";
export { type Carrier, carrierOf, isRaised, linkRate } from "./links.ts";
export { memberOf } from "./membership.ts";
export { type BridgePlace, type Plant, plantOf } from "./plant.ts";
export { isGivenUp, routerChoice, routersWithOthers, withRoutersGivenUp } from "./routers.ts";
export { type SettleConditions, type Standing, settle, wiresOf } from "./settle.ts";
export { takerOf } from "./taker.ts";
export { identityOf, portView, type TreeBridge, treeBridgesOf } from "./tree.ts";
export { lackOf, withoutDelegated } from "./undelegated.ts";
