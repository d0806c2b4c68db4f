/**
 * What an ICMP error quotes: a packet of a connection as it was on the wire, chosen so that the error goes where such an
 * error would go: to the source of the packet it is about.
 */
import { type Address, addressKey } from "../address/index.ts";
import type { Injection } from "../simulate/index.ts";
import type { IpBody, IpPacket } from "../wire/index.ts";

/** Every form that a packet had on its way, as it was sent first. */
export function formsOf(sent: IpPacket, injection: Injection): IpPacket[] {
  const crossed = injection.segments.filter((crossing) => crossing.descent === "sent").map(({ packet }) => packet);
  const arrived = injection.arrivals.filter((arrival) => arrival.descent === "sent").map(({ packet }) => packet);
  // What found no neighbour was on no link as it then was, yet its connection lives.
  const ended = injection.endings.flatMap(({ descent, packet }) =>
    descent === "sent" && packet !== undefined ? [packet] : [],
  );
  return [sent, ...crossed, ...arrived, ...ended];
}

/**
 * The form, or the answer to it, that an error sent to this address is about. An error that goes back quotes what was
 * seen last; one that goes the same way as the packet quotes an answer as it comes back to the sender, so the first.
 * `about`: whom the quoted packet was sent to, where that is known.
 */
export function quotedFor(destination: Address, forms: readonly IpPacket[], about?: bigint): IpPacket | undefined {
  const key = addressKey(destination);
  const isMeant = (end: Address): boolean => about === undefined || addressKey(end) === about;
  const sent = forms.filter((form) => addressKey(form.source) === key);
  const back = forms.filter((form) => addressKey(form.destination) === key);
  const answered = back.find((form) => isMeant(form.source));
  const meant = sent.findLast((form) => isMeant(form.destination)) ?? (answered && reversed(answered));
  const [first] = back;
  return meant ?? sent.at(-1) ?? (first && reversed(first));
}

function reversed(packet: IpPacket): IpPacket {
  return { ...packet, source: packet.destination, destination: packet.source, body: reversedBody(packet.body) };
}

const PROTOCOL_SCTP = 132;
/** ICMP queries and their answers (RFC 792, RFC 950, RFC 4443, RFC 4620). */
const ANSWERS: ReadonlyMap<number, number> = new Map([
  [8, 0],
  [13, 14],
  [15, 16],
  [17, 18],
  [128, 129],
  [139, 140],
]);

function reversedBody(body: IpBody): IpBody {
  if (body.kind === "udp" || body.kind === "tcp") {
    return { ...body, sourcePort: body.destinationPort, destinationPort: body.sourcePort };
  }
  // SCTP begins with its ports, too (RFC 9260 section 3.1).
  if (body.kind === "raw" && body.protocol === PROTOCOL_SCTP) {
    const { bytes } = body;
    return {
      ...body,
      bytes: Uint8Array.from([...bytes.subarray(2, 4), ...bytes.subarray(0, 2), ...bytes.subarray(4)]),
    };
  }
  if (body.kind === "icmp") return { ...body, type: ANSWERS.get(body.type) ?? body.type };
  return body;
}
