/**
 * Packets as a stack makes them.
 */
import type { Address } from "../address/index.ts";
import { type IpBody, type IpPacket, isIcmpError, isIcmpv6Error, type NeighbourMessage } from "../wire/index.ts";

/** Default of the Linux kernel, and of RFC 1700 (from memory). */
const HOP_LIMIT = 64;

/** A whole packet; not to be fragmented, as a host that discovers the path's MTU asks for. */
export function plainPacket(source: Address, destination: Address, body: IpBody): IpPacket {
  return {
    source,
    destination,
    hopLimit: HOP_LIMIT,
    identification: 0,
    dontFragment: true,
    moreFragments: false,
    fragmentOffset: 0,
    trafficClass: 0,
    body,
  };
}

const FROM_THIS_LINK = 255; // RFC 4861 section 7.1: proves that no router passed it on

/** A message of neighbour discovery. */
export function discoveryPacket(source: Address, destination: Address, message: NeighbourMessage): IpPacket {
  return { ...plainPacket(source, destination, { kind: "neighbour", message }), hopLimit: FROM_THIS_LINK };
}

/** Whether an address means something on its own link only: fe80::/10, RFC 4291 section 2.5.6. */
export function isLinkScope({ family, value }: Address): boolean {
  return family === 6 && value >> 118n === 0xfe80n >> 6n;
}

/** The packet that an ICMP error is about. */
export function quotedPacket({ body, source }: IpPacket): IpPacket | undefined {
  if (body.kind !== "icmp" || body.content.kind !== "error") return undefined;
  const isError = source.family === 4 ? isIcmpError(body.type) : isIcmpv6Error(body.type);
  return isError && !(body.content.quoted instanceof Uint8Array) ? body.content.quoted : undefined;
}
