/**
 * What a change of a site does: two states in, changed sets of packets out, each with a packet and the lines that decide.
 */
export { type Compared, compareStates, isWithin, type Turned, tellTurned, turnedBetween } from "./compare.ts";
export type { SideFiles } from "./lines.ts";
export type { CompareRequest, State } from "./states.ts";
