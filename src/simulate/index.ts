/**
 * The engine that moves one frame at a time through a site at rest, with virtual time and state: address tables,
 * neighbour caches, connections, translations. It records a trace in which each step names the origin that decided.
 */
export { acquireBindings } from "./leases.ts";
export type {
  BindingFailure,
  Bindings,
  CaptureSink,
  Descent,
  Ending,
  Injection,
  ProbeRequest,
  ProbeResult,
  ProbeService,
  SegmentCrossing,
  SimulationOptions,
  StackArrival,
  StandIn,
} from "./results.ts";
export { createSimulation, type Simulation } from "./simulation.ts";
