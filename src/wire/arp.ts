/**
 * ARP for IPv4 over Ethernet (RFC 826): 28 bytes. Other hardware or protocol spaces are `unsupported`.
 */
import { type Address, formatAddress, formatHardware, type Hardware } from "../address/index.ts";
import { getAddress4, getHardware, put8, put16, setAddress, setHardware, viewOf } from "./bytes.ts";
import { type Malformed, truncated } from "./malformed.ts";

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

/** Bytes of an ARP packet between Ethernet and IPv4. */
export const ARP_LENGTH = 28;

const ETHERNET_SPACE = 1;
const IPV4_SPACE = 0x0800;
const OPERATION_AT = 6;
const SENDER_HARDWARE_AT = 8;
const SENDER_ADDRESS_AT = 14;
const TARGET_HARDWARE_AT = 18;
const TARGET_ADDRESS_AT = 24;

/** Reads an ARP packet; bytes behind it are padding. */
export function parseArp(bytes: Uint8Array): ArpPacket | Malformed {
  if (bytes.length < SENDER_HARDWARE_AT) return truncated("ARP", SENDER_HARDWARE_AT, bytes.length);
  const view = viewOf(bytes);
  if (view.getUint16(0) !== ETHERNET_SPACE || view.getUint16(2) !== IPV4_SPACE)
    return { malformed: "unsupported", protocol: "ARP", problem: "not between Ethernet and IPv4" };
  if (view.getUint8(4) !== 6 || view.getUint8(5) !== 4)
    return { malformed: "length", protocol: "ARP", problem: "address lengths are not 6 and 4" };
  if (bytes.length < ARP_LENGTH) return truncated("ARP", ARP_LENGTH, bytes.length);
  return {
    operation: view.getUint16(OPERATION_AT),
    senderHardware: getHardware(view, SENDER_HARDWARE_AT),
    senderAddress: getAddress4(view, SENDER_ADDRESS_AT),
    targetHardware: getHardware(view, TARGET_HARDWARE_AT),
    targetAddress: getAddress4(view, TARGET_ADDRESS_AT),
  };
}

/** Writes an ARP packet. */
export function emitArp(arp: ArpPacket): Uint8Array {
  const bytes = new Uint8Array(ARP_LENGTH);
  const view = viewOf(bytes);
  put16(view, 0, ETHERNET_SPACE);
  put16(view, 2, IPV4_SPACE);
  put8(view, 4, 6);
  put8(view, 5, 4);
  put16(view, OPERATION_AT, arp.operation);
  setHardware(view, SENDER_HARDWARE_AT, arp.senderHardware);
  setAddress(view, SENDER_ADDRESS_AT, arp.senderAddress);
  setHardware(view, TARGET_HARDWARE_AT, arp.targetHardware);
  setAddress(view, TARGET_ADDRESS_AT, arp.targetAddress);
  return bytes;
}

/** One line. */
export function describeArp(arp: ArpPacket): string {
  const sender = formatAddress(arp.senderAddress);
  const target = formatAddress(arp.targetAddress);
  if (arp.operation === ARP_REPLY) return `ARP: ${sender} is at ${formatHardware(arp.senderHardware)}`;
  if (arp.operation !== ARP_REQUEST) return `ARP operation ${arp.operation} from ${sender} about ${target}`;
  if (arp.senderAddress.value === 0n) return `ARP: is ${target} taken?`;
  if (sender === target) return `ARP: ${sender} announces itself at ${formatHardware(arp.senderHardware)}`;
  return `ARP: ${sender} asks where ${target} is`;
}
