/**
 * The structured IP packet that the simulator moves: one type for both families. Lengths and checksums are not part of
 * it; `emitIp` computes them. A fragment always has a `raw` body, since its bytes need not begin with a header.
 */
import type { Address } from "../address/index.ts";
import type { DhcpMessage } from "./dhcp.ts";
import type { ExtensionHeader } from "./ipv6-extensions.ts";
import type { NeighbourMessage } from "./neighbour.ts";
import type { TcpSegment } from "./tcp.ts";

/** An IP packet. Both addresses are of the same family, which is the packet's. */
export type IpPacket = {
  /** Who sends. */
  readonly source: Address;
  /** Who is to receive. */
  readonly destination: Address;
  /** Time to live or hop limit, 0 to 255. */
  readonly hopLimit: number;
  /** Ties fragments together: 16 bits in IPv4; 32 in IPv6, where it counts for fragments only and else is 0. */
  readonly identification: number;
  /** IPv4 flag DF; always true for IPv6, whose routers never fragment. */
  readonly dontFragment: boolean;
  /** Whether further fragments follow. */
  readonly moreFragments: boolean;
  /** Place of this fragment in the whole, in units of 8 bytes; 0 for a whole packet. */
  readonly fragmentOffset: number;
  /** Type of service or traffic class, 8 bits. */
  readonly trafficClass: number;
  /** IPv6 flow label, 20 bits. Default: 0. */
  readonly flowLabel?: number;
  /** IPv4 options, a multiple of 4 bytes, at most 40. Default: none. */
  readonly options?: Uint8Array;
  /** IPv6 extension headers in order, kept unread; those of a fragment end before its fragment header. Default: none. */
  readonly extensions?: readonly ExtensionHeader[];
  /** What the packet carries. */
  readonly body: IpBody;
};

/** All of an IP packet but what it carries. */
export type IpHeader = Omit<IpPacket, "body">;

/** What an IP packet carries. */
export type IpBody = UdpBody | TcpBody | IcmpBody | NeighbourBody | RawBody;

/** A UDP datagram. */
export type UdpBody = {
  /** Which body. */
  readonly kind: "udp";
  /** 0 to 65535. */
  readonly sourcePort: number;
  /** 0 to 65535. */
  readonly destinationPort: number;
  /** What the datagram carries. */
  readonly data: UdpData;
};

/** What a UDP datagram carries. */
export type UdpData =
  | {
      /** A DHCPv4 message, between ports 67 and 68. */
      readonly kind: "dhcp";
      /** The message. */
      readonly message: DhcpMessage;
    }
  | {
      /** Anything else. */
      readonly kind: "bytes";
      /** The datagram's payload. */
      readonly bytes: Uint8Array;
    };

/** A TCP segment. */
export type TcpBody = TcpSegment & {
  /** Which body. */
  readonly kind: "tcp";
};

/** An ICMP or ICMPv6 message; the packet's family says which. */
export type IcmpBody = {
  /** Which body. */
  readonly kind: "icmp";
  /** ICMP type. */
  readonly type: number;
  /** ICMP code. */
  readonly code: number;
  /** What the message says beyond type and code. */
  readonly content: IcmpContent;
};

/** What an ICMP message says beyond type and code. */
export type IcmpContent =
  | {
      /** Echo request or reply. */
      readonly kind: "echo";
      /** Ties replies to a sender's requests, 16 bits. */
      readonly identifier: number;
      /** Ties a reply to one request, 16 bits. */
      readonly sequence: number;
      /** Bytes to be echoed. */
      readonly data: Uint8Array;
    }
  | {
      /** An error about another packet. */
      readonly kind: "error";
      /** Next-hop MTU of "fragmentation needed" (3/4) and "packet too big" (2/0). Default: 0. */
      readonly mtu?: number;
      /** The other bits between checksum and quotation (32 bits; pointer of a parameter problem). Default: 0. */
      readonly rest?: number;
      /** The packet it is about, or the bytes of it that were quoted when they are not a whole packet. */
      readonly quoted: IpPacket | Uint8Array;
    }
  | {
      /** Any other type. */
      readonly kind: "other";
      /** Everything behind the checksum. */
      readonly bytes: Uint8Array;
    };

/** A message of neighbour discovery; IPv6 only. */
export type NeighbourBody = {
  /** Which body. */
  readonly kind: "neighbour";
  /** The message. */
  readonly message: NeighbourMessage;
};

/** Any other protocol, and every fragment. */
export type RawBody = {
  /** Which body. */
  readonly kind: "raw";
  /** Protocol or next header number. */
  readonly protocol: number;
  /** Everything behind the IP header. */
  readonly bytes: Uint8Array;
};
