/**
 * Short questions for tests: addresses as text, services as `tcp/80`.
 */
import { type Address, parseAddress } from "../../src/address/index.ts";
import type { ProbeRequest, ProbeResult, Simulation } from "../../src/simulate/index.ts";
import type { IpBody, IpPacket } from "../../src/wire/index.ts";

/** An address that is written in the test, so known to be one. */
export function at(text: string): Address {
  const address = parseAddress(text);
  if (address === undefined) throw new Error(`no address: ${text}`);
  return address;
}

/** Probes from a stack. */
export function ask(
  simulation: Simulation,
  from: string,
  destination: string,
  service = "icmp/8",
  more: Partial<ProbeRequest> = {},
): ProbeResult {
  const [protocol = "", number] = service.split("/");
  const protocols: Readonly<Record<string, number>> = { icmp: 1, tcp: 6, udp: 17, icmp6: 58 };
  const code = protocols[protocol] ?? Number(protocol);
  const isIcmp = protocol.startsWith("icmp");
  const what = isIcmp ? { icmp: { type: Number(number), code: 0 } } : { port: Number(number) };
  return simulation.probe({ from, destination: at(destination), service: { protocol: code, ...what }, ...more });
}

/** The outcome in a word or two: "answered", "refused 3/1", "opens, then stalls". */
export function told({ outcome, stalls }: ProbeResult): string {
  if (stalls) return "opens, then stalls";
  if (outcome.refusal === undefined) return outcome.end;
  return `${outcome.end} ${outcome.refusal.type}/${outcome.refusal.code}`;
}

/** A packet by hand. */
export function packet(source: string, destination: string, body: IpBody, more: Partial<IpPacket> = {}): IpPacket {
  return {
    source: at(source),
    destination: at(destination),
    hopLimit: 64,
    identification: 0,
    dontFragment: true,
    moreFragments: false,
    fragmentOffset: 0,
    trafficClass: 0,
    body,
    ...more,
  };
}

/** A UDP datagram. */
export function udp(sourcePort: number, destinationPort: number): IpBody {
  return { kind: "udp", sourcePort, destinationPort, data: { kind: "bytes", bytes: new Uint8Array(4) } };
}

/** A TCP segment. */
export function tcp(sourcePort: number, destinationPort: number, flags: number): IpBody {
  const none = new Uint8Array(0);
  const numbers = { sequence: 1, acknowledgement: 0, window: 1000 };
  return { kind: "tcp", sourcePort, destinationPort, flags, ...numbers, options: none, data: none };
}
