/**
 * Addresses, prefixes, sets of numbers, hardware addresses and services: the numbers of the trade and their text forms.
 *
 * An `Address` is a family and a number, a `Prefix` a family, a number without host bits and a length. Sets are
 * `Ranges`: inclusive, ascending, disjoint and merged, so that equal sets have equal data. One number line holds
 * both families (`addressKey`), so that a set of addresses is a `Ranges` too. Parsers are strict and answer
 * `undefined` (or a problem that can be shown) for what is not exactly in form; nothing is guessed, nothing thrown.
 *
 * ```ts
 * const crew = parsePrefix("10.71.30.0/24")?.prefix;
 * const lab = unionRanges(rangeOf(...prefixKeys(crew)), single(addressKey(printer)));
 * ```
 */
export type { Address, Family } from "./address.ts";
export { formatAddress, parseAddress, widthOf } from "./address.ts";
export { formatAddressSet, parseAddressSet } from "./address-text.ts";
export type { Hardware } from "./hardware.ts";
export {
  BROADCAST_HARDWARE,
  formatHardware,
  interfaceIdentifier,
  isMulticastHardware,
  linkLocal,
  multicastHardware,
  parseHardware,
  solicitedNode,
} from "./hardware.ts";
export { addressKey, FAMILY_KEYS, keyAddress, prefixesOfKeys, prefixesOfRange, prefixKeys } from "./keys.ts";
export type { NumberBounds, NumberRange, RangeProblem } from "./number-text.ts";
export {
  formatRanges,
  parseNumber,
  parseNumberRange,
  parsePortRange,
  parseRanges,
  parseVlan,
  parseVlans,
} from "./number-text.ts";
export type { Prefix } from "./prefix.ts";
export {
  commonPrefixLength,
  firstAddress,
  formatPrefix,
  hostAddress,
  isBroadcast,
  lastAddress,
  parsePrefix,
  prefixContains,
  prefixesOverlap,
  prefixOf,
  prefixWithin,
} from "./prefix.ts";
export type { IcmpName, ProtocolName } from "./protocols.ts";
export {
  ICMP_TYPES,
  ICMP6_TYPES,
  icmpName,
  PORT_PROTOCOLS,
  PROTOCOLS,
  protocolName,
  protocolNumber,
} from "./protocols.ts";
export type { Ranges } from "./ranges.ts";
export {
  EMPTY_RANGES,
  intersectRanges,
  isEmptyRanges,
  mergeAscending,
  normalizeRanges,
  rangeOf,
  ranges,
  rangesContain,
  rangesEqual,
  rangesOf,
  rangesOverlap,
  rangesSize,
  rangesWithin,
  single,
  subtractRanges,
  unionRanges,
} from "./ranges.ts";
export type { Service, ServiceProblem } from "./service.ts";
export { EVERY_SERVICE, formatService, formatServices, isEcho, parseService } from "./service.ts";
export type { SpecialPurpose } from "./special-purpose.ts";
export {
  isLinkLocal,
  isLoopback,
  isMulticast,
  isPublic,
  isUnspecified,
  knownPrefix,
  PUBLIC_KEYS,
  SPECIAL_PURPOSE_BLOCKS,
  specialPurpose,
} from "./special-purpose.ts";
