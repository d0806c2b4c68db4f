/**
 * Packets made by hand for cases that no ordinary program can bring about: a hop limit of 1, a foreign source, a segment
 * in the middle of a connection that nobody began.
 */
import type { IpBody, IpPacket, TcpBody } from "../../src/wire/index.ts";
import { address } from "./judge.ts";

const NOTHING = new Uint8Array(0);

/** An IP packet; the hop limit is 64 unless said. */
export function packet(source: string, destination: string, body: IpBody, hopLimit = 64): IpPacket {
  return {
    source: address(source),
    destination: address(destination),
    hopLimit,
    identification: 7,
    dontFragment: true,
    moreFragments: false,
    fragmentOffset: 0,
    trafficClass: 0,
    body,
  };
}

/** A UDP datagram with a few bytes that nobody answers. */
export function udp(sourcePort: number, destinationPort: number): IpBody {
  const bytes = new TextEncoder().encode("by hand");
  return { kind: "udp", sourcePort, destinationPort, data: { kind: "bytes", bytes } };
}

/** A TCP segment without data. */
export function tcp(sourcePort: number, destinationPort: number, flags: number): TcpBody {
  return {
    kind: "tcp",
    sourcePort,
    destinationPort,
    flags,
    sequence: 1000,
    acknowledgement: 2000,
    window: 1024,
    options: NOTHING,
    data: NOTHING,
  };
}

/** An echo request of IPv4 or IPv6. */
export function echo(family: 4 | 6): IpBody {
  const content = { kind: "echo", identifier: 77, sequence: 1, data: NOTHING } as const;
  return { kind: "icmp", type: family === 4 ? 8 : 128, code: 0, content };
}
