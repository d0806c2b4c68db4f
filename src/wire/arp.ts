/**
 * ARP for IPv4 over Ethernet (RFC 826): 28 bytes. Other hardware or protocol spaces are `unsupported`.
 */
import type { Address, Hardware } from "../address/index.ts";

/** Operation of a question. RFC 826. */
export const ARP_REQUEST = 1;
/** Operation of an answer. RFC 826. */
export const ARP_REPLY = 2;

/** One ARP packet between Ethernet and IPv4. */
export type ArpPacket = {
  /** 1 request, 2 reply; others survive. */
  readonly operation: number;
  /** Hardware address of who speaks. */
  readonly senderHardware: Hardware;
  /** IPv4 address of who speaks; 0.0.0.0 in a probe (RFC 5227, from memory). */
  readonly senderAddress: Address;
  /** Hardware address asked for or answered; 0 in a request. */
  readonly targetHardware: Hardware;
  /** IPv4 address asked for, or of who asked. */
  readonly targetAddress: Address;
};
