/**
 * Names of IP protocols (numbers as assigned by IANA, from memory where no RFC is named) and of ICMP messages:
 * RFC 792 and RFC 1812 section 5.2.7 for IPv4, RFC 4443 section 3 and RFC 4861 section 4 for IPv6.
 */

/** A protocol that has a name here. */
export type ProtocolName = {
  /** The word people write. */
  readonly name: string;
  /** Protocol number of the IPv4 header, next header number of IPv6. */
  readonly number: number;
};

/** Every protocol with a name, ascending by number. */
export const PROTOCOLS: readonly ProtocolName[] = [
  { name: "hop-by-hop", number: 0 },
  { name: "icmp", number: 1 },
  { name: "igmp", number: 2 },
  { name: "ipip", number: 4 },
  { name: "tcp", number: 6 },
  { name: "udp", number: 17 },
  { name: "dccp", number: 33 },
  { name: "ipv6", number: 41 },
  { name: "rsvp", number: 46 },
  { name: "gre", number: 47 },
  { name: "esp", number: 50 },
  { name: "ah", number: 51 },
  { name: "icmp6", number: 58 },
  { name: "ospf", number: 89 },
  { name: "etherip", number: 97 },
  { name: "pim", number: 103 },
  { name: "ipcomp", number: 108 },
  { name: "vrrp", number: 112 },
  { name: "l2tp", number: 115 },
  { name: "sctp", number: 132 },
  { name: "udplite", number: 136 },
];

/** Numbers of the protocols whose first four bytes are source and destination port: TCP, UDP, DCCP, SCTP, UDP-Lite. */
export const PORT_PROTOCOLS: readonly number[] = [6, 17, 33, 132, 136];

const nameOfNumber: ReadonlyMap<number, string> = new Map(PROTOCOLS.map(({ name, number }) => [number, name]));
const numberOfName: ReadonlyMap<string, number> = new Map(PROTOCOLS.map(({ name, number }) => [name, number]));

/** The name of a protocol number; undefined when it has none here. */
export function protocolName(number: number): string | undefined {
  return nameOfNumber.get(number);
}

/** The number of a protocol's name; undefined for an unknown name. */
export function protocolNumber(name: string): number | undefined {
  return numberOfName.get(name);
}

/** An ICMP message that has a name here. */
export type IcmpName = {
  /** The words people write, joined by `-`. */
  readonly name: string;
  /** Type field. */
  readonly type: number;
  /** Code field; absent when the name means every code of the type. */
  readonly code?: number;
};

/** Messages of ICMP for IPv4: RFC 792; types 9 and 10 RFC 1256; codes 6 to 15 of type 3 RFC 1812 section 5.2.7.1. */
export const ICMP_TYPES: readonly IcmpName[] = [
  { name: "echo-reply", type: 0 },
  { name: "destination-unreachable", type: 3 },
  { name: "network-unreachable", type: 3, code: 0 },
  { name: "host-unreachable", type: 3, code: 1 },
  { name: "protocol-unreachable", type: 3, code: 2 },
  { name: "port-unreachable", type: 3, code: 3 },
  { name: "fragmentation-needed", type: 3, code: 4 },
  { name: "source-route-failed", type: 3, code: 5 },
  { name: "network-unknown", type: 3, code: 6 },
  { name: "host-unknown", type: 3, code: 7 },
  { name: "network-prohibited", type: 3, code: 9 },
  { name: "host-prohibited", type: 3, code: 10 },
  { name: "administratively-prohibited", type: 3, code: 13 },
  { name: "host-precedence-violation", type: 3, code: 14 },
  { name: "precedence-cutoff", type: 3, code: 15 },
  { name: "source-quench", type: 4 },
  { name: "redirect", type: 5 },
  { name: "network-redirect", type: 5, code: 0 },
  { name: "host-redirect", type: 5, code: 1 },
  { name: "echo-request", type: 8 },
  { name: "router-advertisement", type: 9 },
  { name: "router-solicitation", type: 10 },
  { name: "time-exceeded", type: 11 },
  { name: "hop-limit-exceeded", type: 11, code: 0 },
  { name: "reassembly-time-exceeded", type: 11, code: 1 },
  { name: "parameter-problem", type: 12 },
  { name: "timestamp-request", type: 13 },
  { name: "timestamp-reply", type: 14 },
];

/** Messages of ICMP for IPv6: RFC 4443 section 3; 133 to 137 RFC 4861 section 4; 130 to 132 RFC 2710 and 143 RFC 3810, from memory. */
export const ICMP6_TYPES: readonly IcmpName[] = [
  { name: "destination-unreachable", type: 1 },
  { name: "no-route", type: 1, code: 0 },
  { name: "administratively-prohibited", type: 1, code: 1 },
  { name: "beyond-scope", type: 1, code: 2 },
  { name: "address-unreachable", type: 1, code: 3 },
  { name: "port-unreachable", type: 1, code: 4 },
  { name: "source-address-policy", type: 1, code: 5 },
  { name: "reject-route", type: 1, code: 6 },
  { name: "packet-too-big", type: 2 },
  { name: "time-exceeded", type: 3 },
  { name: "hop-limit-exceeded", type: 3, code: 0 },
  { name: "reassembly-time-exceeded", type: 3, code: 1 },
  { name: "parameter-problem", type: 4 },
  { name: "erroneous-header", type: 4, code: 0 },
  { name: "unknown-next-header", type: 4, code: 1 },
  { name: "unknown-option", type: 4, code: 2 },
  { name: "echo-request", type: 128 },
  { name: "echo-reply", type: 129 },
  { name: "multicast-listener-query", type: 130 },
  { name: "multicast-listener-report", type: 131 },
  { name: "multicast-listener-done", type: 132 },
  { name: "router-solicitation", type: 133 },
  { name: "router-advertisement", type: 134 },
  { name: "neighbour-solicitation", type: 135 },
  { name: "neighbour-advertisement", type: 136 },
  { name: "redirect", type: 137 },
  { name: "multicast-listener-report-2", type: 143 },
];

/** The table of the ICMP messages of a protocol: 1 or 58; undefined for protocols that are no ICMP. */
export function icmpTable(protocol: number): readonly IcmpName[] | undefined {
  if (protocol === 1) return ICMP_TYPES;
  return protocol === 58 ? ICMP6_TYPES : undefined;
}

/** The name of exactly this type and code (no code: of the type as a whole); undefined when it has none here. */
export function icmpName(protocol: 1 | 58, type: number, code?: number): string | undefined {
  return icmpTable(protocol)?.find((entry) => entry.type === type && entry.code === code)?.name;
}
