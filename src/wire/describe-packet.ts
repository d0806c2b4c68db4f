/**
 * Structured IP packets in words, one line each: who to whom, then what.
 */
import { formatAddress, protocolName } from "../address/index.ts";
import { inBytes } from "./bytes.ts";
import { describeDhcp } from "./dhcp.ts";
import { isFragment } from "./emit-packet.ts";
import { describeIcmp } from "./icmp.ts";
import { describeIcmpv6 } from "./icmpv6.ts";
import { describeNeighbour } from "./neighbour.ts";
import type { IcmpBody, IpPacket, RawBody, UdpBody } from "./packet.ts";
import { describeTcp } from "./tcp.ts";
import { describeUdp } from "./udp.ts";

/** One line. */
export function describeIp(packet: IpPacket): string {
  const ends = `${formatAddress(packet.source)} to ${formatAddress(packet.destination)}`;
  return `${ends}: ${describeBody(packet)}`;
}

function describeBody(packet: IpPacket): string {
  const { body } = packet;
  switch (body.kind) {
    case "udp":
      return describeUdpBody(body);
    case "tcp":
      return describeTcp(body);
    case "icmp":
      return describeIcmpBody(body, packet);
    case "neighbour":
      return describeNeighbour(body.message);
    case "raw":
      return describeRaw(body, packet);
  }
}

function describeUdpBody(body: UdpBody): string {
  if (body.data.kind === "dhcp") return describeDhcp(body.data.message);
  return describeUdp({ ...body, payload: body.data.bytes });
}

function describeIcmpBody(body: IcmpBody, packet: IpPacket): string {
  const what = packet.source.family === 4 ? describeIcmp(body) : describeIcmpv6(body);
  const { content } = body;
  if (content.kind === "echo") return `${what} ${content.sequence} of ${content.identifier}`;
  if (content.kind === "other") return what;
  const mtu = content.mtu === undefined ? "" : ` (MTU ${content.mtu})`;
  const about = content.quoted instanceof Uint8Array ? "a packet in part" : describeIp(content.quoted);
  return `${what}${mtu}, about ${about}`;
}

function describeRaw(body: RawBody, packet: IpPacket): string {
  const name = protocolName(body.protocol) ?? `protocol ${body.protocol}`;
  const what = `${name}, ${inBytes(body.bytes.length)}`;
  if (!isFragment(packet)) return what;
  const rest = packet.moreFragments ? ", more follow" : ", the last";
  return `fragment of ${what} from ${packet.fragmentOffset * 8}${rest}`;
}
