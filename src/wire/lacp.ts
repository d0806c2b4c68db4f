/**
 * LACPDU version 1 (IEEE 802.1AX, from memory): subtype 1 of the slow protocols, EtherType 0x8809, 110 bytes, sent to
 * 01:80:c2:00:00:02. State bits as named in the standard's YANG type `lacp-state`.
 */
import type { Hardware } from "../address/index.ts";

/** State bit: sends regardless of the partner. */
export const LACP_ACTIVITY = 0x01;
/** State bit: wants the partner to send fast. */
export const LACP_TIMEOUT = 0x02;
/** State bit: may be aggregated. */
export const LACP_AGGREGATION = 0x04;
/** State bit: attached to the right aggregator. */
export const LACP_SYNCHRONIZATION = 0x08;
/** State bit: accepts frames. */
export const LACP_COLLECTING = 0x10;
/** State bit: sends frames. */
export const LACP_DISTRIBUTING = 0x20;
/** State bit: uses defaults for the partner. */
export const LACP_DEFAULTED = 0x40;
/** State bit: the partner's information has run out. */
export const LACP_EXPIRED = 0x80;

/** What an end says of itself, or believes of the other. */
export type LacpPort = {
  /** System priority, 16 bits; lower wins. */
  readonly systemPriority: number;
  /** System address. */
  readonly system: Hardware;
  /** Key: ports of one system with one key may aggregate. */
  readonly key: number;
  /** Port priority, 16 bits. Default of the standard: 0x8000. */
  readonly portPriority: number;
  /** Port number, 1 to 65535; 0 where unknown. */
  readonly port: number;
  /** Bit set of `LACP_` constants. */
  readonly state: number;
};

/** One LACP protocol data unit. */
export type Lacpdu = {
  /** Version number; 1 as written here, others survive. */
  readonly version: number;
  /** The sender. */
  readonly actor: LacpPort;
  /** What the sender believes of its partner. */
  readonly partner: LacpPort;
  /** Longest delay of the sender's collector, in tens of microseconds. */
  readonly collectorMaxDelay: number;
};
