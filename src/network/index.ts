/**
 * The description: one set of plain types that `compile/` writes and two engines read. What a device does with a
 * packet is written here once, as data: membership, routes, rule and translation tables, and the steps in their
 * order. An engine knows only what one step does.
 *
 * Guarantees: readonly, cloneable, no record keyed by user text, arrays sorted by id (steps, rules, interfaces and
 * members keep their own order), every entry has an origin, every part a digest without spans.
 */
export {
  beyondId,
  beyondPortId,
  beyondTo,
  deviceOf,
  type Entry,
  type Id,
  idOf,
  isBeyond,
  joinIds,
  lastName,
  type Part,
  portId,
  splitIds,
} from "./entry.ts";
export type { Arrival, EarlierPacket, Fate, FateClass, FateExample, PathStep, ProbeOutcome, Witness } from "./fate.ts";
export type { Entrance, Group, Party, SegmentPoint, SetMember, Vouched } from "./group.ts";
export { internetAddresses } from "./internet.ts";
export type {
  Bond,
  Bridge,
  BridgePort,
  BridgeStep,
  Link,
  Member,
  OuterEnd,
  OuterExchange,
  Port,
  ReservedHabit,
  TreePort,
  TreeSettings,
} from "./link-layer.ts";
export { type Listening, listeningOf } from "./listening.ts";
export {
  type Alternatives,
  type AskedField,
  type AskedPackets,
  askedOf,
  type Condition,
  type ConnectionState,
  type Field,
  type Match,
  type NameField,
  type NumberField,
  type TranslatedEnd,
} from "./match.ts";
export type { Device, Network, Stopped } from "./network.ts";
export { NO_NOTES, type Notes, type Sieve } from "./notes.ts";
export type { Advertise, DhcpRelay, DhcpServer, Listen, Reservation, Resolve, Service } from "./service.ts";
export type {
  AdvertisedBinding,
  Binding,
  Choice,
  Lease,
  Pick,
  Router,
  Settled,
  SettledBond,
  SettledInterface,
  SettledStack,
  Storm,
  TreeBlock,
  Undelegated,
} from "./settled.ts";
export type {
  Awaits,
  DelegatedPrefix,
  DropReason,
  IcmpPair,
  Interface,
  InterfaceAddress,
  Mapping,
  Refusal,
  Session,
  Stack,
  Step,
  Tracking,
  TunnelEnd,
} from "./stack.ts";
export type {
  FilterAction,
  FilterTable,
  Route,
  RouteAction,
  RouteTable,
  Rule,
  Table,
  TranslateAction,
  TranslateTable,
} from "./tables.ts";
