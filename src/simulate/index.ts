/**
 * The engine that moves one frame at a time through a site at rest, with virtual time and state: address tables,
 * neighbour caches, connections, translations. It records a trace in which each step names the origin that decided.
 *
 * A `Simulation` begins with nothing learned. `probe` makes one exchange and tells how it went and which line decided;
 * `inject` and `sendFrom` follow one frame or packet into everything that becomes of it. What is left open is decided by
 * the picks given, and told in `picksUsed`. `acquireBindings` lets the clients of a site take their leases.
 *
 * How it is made: `plan` is the index over `(Network, Settled)`; `link-layer` moves frames, `bridge-frame` takes them
 * through one bridge; `stack` takes packets through the steps of a stack, one function a step (`step-...`);
 * `neighbour-cache`, `arp` and `discovery` find hardware addresses; `deliver` and `answers` are the far end, `exchange`
 * the near one; `journal` writes everything down, `probe-result` and `explain` read it. Single steps (`fits`,
 * `filterPacket`, `lookUpRoute`, `bridgeFrame`) are here too, for those who hold two engines together.
 *
 * ```ts
 * const simulation = createSimulation(network, settled);
 * simulation.probe({ from: "laptop/stack", destination, service: { protocol: 6, port: 443 } }).outcome.end; // "answered"
 * ```
 */
export { bridgeFrame } from "./bridge-alone.ts";
export { type CapturedSite, captureTo } from "./capture.ts";
export { Course, type CourseWorld, MOST_REST_MS, REST_MS } from "./course/course.ts";
export type { Circumstances, CourseEvent, CourseMoment, CourseOptions } from "./course/records.ts";
export { filterPacket } from "./filter-table.ts";
export { acquireBindings } from "./leases.ts";
export { fits } from "./match.ts";
export type { PacketFields } from "./packet-view.ts";
export type {
  BindingFailure,
  Bindings,
  CaptureSink,
  Injection,
  ProbeRequest,
  ProbeResult,
  SegmentCrossing,
  SimulationOptions,
  StackArrival,
  StandIn,
  Tally,
} from "./results.ts";
export { lookUpRoute } from "./route-table.ts";
export { withRouters } from "./routers.ts";
export { type Answering, createSimulation, type Simulation } from "./simulation.ts";
export { type OuterWays, outerWaysOf, type TunnelFailure, withTunnels } from "./tunnels.ts";
