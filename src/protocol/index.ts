/**
 * Protocols as pure machines: `(settings, state, event, nowMs) -> { state, actions }`. A state is plain data, one record
 * a state; a machine names the moment it wants to be woken at (`...WakeMs`) and never reads a clock or a random number.
 * What moves the frames, the simulator over time or settling in rounds, carries the actions out.
 */

export {
  ADVERTISER_CONSTANTS,
  type AdvertiserEvent,
  type AdvertiserState,
  advertisementOf,
  advertiserWakeMs,
  minimumInterval,
  SILENT_ADVERTISER,
  stepAdvertiser,
} from "./advertiser.ts";
export {
  AUTOCONFIGURATION_CONSTANTS,
  type AutoconfigurationState,
  autoconfigurationWakeMs,
  NEW_AUTOCONFIGURATION,
  renewedValidity,
  stepAutoconfiguration,
} from "./autoconfiguration.ts";
export {
  type Connection,
  type Direction,
  followConnection,
  isQueryType,
  lifetimeSeconds,
  openConnection,
  type Phase,
  type TrackingRules,
  type Tuple,
  tupleKey,
  tupleOf,
  turned,
  usedForLong,
} from "./connections.ts";
export { stepDhcpClient } from "./dhcp-client.ts";
export {
  type DhcpClientAction,
  type DhcpClientEvent,
  type DhcpClientSettings,
  type DhcpClientState,
  dhcpClientWakeMs,
  NEW_DHCP_CLIENT,
} from "./dhcp-client-state.ts";
export { type DhcpFields, dhcpKind, dhcpOptions } from "./dhcp-fields.ts";
export type { Lease } from "./dhcp-lease.ts";
export { leaseOf } from "./dhcp-lease.ts";
export { relayDhcp } from "./dhcp-relay.ts";
export { dhcpLifetimes, dhcpServes, stepDhcpServer } from "./dhcp-server.ts";
export {
  type DhcpDelivery,
  type DhcpServerAction,
  type DhcpServerState,
  EMPTY_DHCP_SERVER,
} from "./dhcp-server-state.ts";
export {
  DISABLED_LACP,
  LACP_DEFAULT_PRIORITY,
  LACP_TIMERS,
  type LacpAction,
  type LacpEvent,
  type LacpSettings,
  type LacpState,
  lacpCarries,
  lacpCarriesAlone,
  lacpIsAlone,
  lacpPartnerOf,
  lacpWakeMs,
  stepLacp,
} from "./lacp.ts";
export { type LacpMember, lacpCarriers, lacpPairs } from "./lacp-selection.ts";
export {
  NEIGHBOUR_SETTINGS,
  type NeighbourAction,
  type NeighbourEvent,
  type NeighbourSettings,
  type NeighbourState,
  stepNeighbour,
  UNKNOWN_NEIGHBOUR,
} from "./neighbours.ts";
export { giveSessionAddress } from "./session-address.ts";
export {
  isOfLink,
  preferenceTurns,
  preferredSource,
  type SourceCandidate,
  sourceCandidates,
} from "./source-address.ts";
export { earliest } from "./transition.ts";
export { treeFrameHash } from "./tree-frame.ts";
export { stepTree } from "./tree-machine.ts";
export {
  newTree,
  type TreeMachineAction,
  type TreeMachineEvent,
  type TreeMachineSettings,
  type TreeMachineState,
  treeWakeMs,
} from "./tree-state.ts";
export {
  compareBridges,
  compareVectors,
  decideTree,
  defaultPathCost,
  type TreeBridgeView,
  type TreeDecision,
  type TreeVector,
  treeOffer,
  treePortNumber,
} from "./tree-vectors.ts";
