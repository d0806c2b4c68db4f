/**
 * Bytes to frames and back, one file a protocol.
 */
export { ARP_REPLY, ARP_REQUEST, type ArpPacket } from "./arp.ts";
export * from "./bpdu.ts";
export * from "./dhcp.ts";
export { TPID_CUSTOMER, TPID_SERVICE, type Tag } from "./ethernet.ts";
export type { Frame, Payload } from "./frame.ts";
export * from "./lacp.ts";
export { isMalformed, type Malformed } from "./malformed.ts";
export * from "./neighbour.ts";
export type { NeighbourOption } from "./neighbour-options.ts";
export type * from "./packet.ts";
export { TCP_ACK, TCP_CWR, TCP_ECE, TCP_FIN, TCP_PSH, TCP_RST, TCP_SYN, TCP_URG } from "./tcp.ts";
