/**
 * Turns a witness (values of fields) into a frame that the simulator can move. Fields that the witness leaves open
 * get plain values: hop limit 64, source port 40000, no tag.
 */
import { type Address, BROADCAST_HARDWARE, keyAddress } from "../address/index.ts";
import type { Witness } from "../network/index.ts";
import { isQueryType } from "../protocol/index.ts";
import {
  type Frame,
  type IpBody,
  type IpPacket,
  type Payload,
  PROTOCOL_ICMP,
  PROTOCOL_ICMPV6,
  TCP_SYN,
  TPID_CUSTOMER,
} from "../wire/index.ts";

const ICMP = 1;
const TCP = 6;
const UDP = 17;
const ICMP6 = 58;
const SCTP = 132;
const NO_BYTES: Uint8Array = new Uint8Array(0);
/** `vlan` of a tagged frame in a match is its VLAN plus this (see `network/match.ts`). */
const TAGGED = 4096;
const SOME_HARDWARE = 0x02_00_00_00_00_fen;

/** Identifier and sequence of an echo request: one inside endpoint sends queries of all types. */
const AS_ECHO: Uint8Array = Uint8Array.of(0, 1, 0, 1);

type Numbers = ReadonlyMap<string, bigint>;

/** The packet of a witness; `quoted` is the packet that an ICMP error in it is about. */
export function packetOfWitness(witness: Witness, quoted?: IpPacket): IpPacket {
  const numbers: Numbers = new Map(witness.numbers);
  const source = addressOf(numbers, "source");
  return {
    source,
    destination: addressOf(numbers, "destination"),
    hopLimit: numberOf(numbers, "hopLimit", 64),
    identification: 0,
    dontFragment: true,
    moreFragments: false,
    fragmentOffset: 0,
    trafficClass: 0,
    body: bodyOf(numbers, source.family, quoted),
  };
}

/** The frame of a witness. */
export function frameOfWitness(witness: Witness, quoted?: IpPacket): Frame {
  const numbers: Numbers = new Map(witness.numbers);
  const vlan = numberOf(numbers, "vlan", 0);
  const vlans = witness.tags ?? (vlan < TAGGED ? [] : [vlan - TAGGED]);
  return {
    destination: numbers.get("destinationHardware") ?? BROADCAST_HARDWARE,
    source: numbers.get("sourceHardware") ?? SOME_HARDWARE,
    tags: vlans.map((each) => ({ tpid: TPID_CUSTOMER, priority: 0, dropEligible: false, vlan: each })),
    payload: payloadOf(packetOfWitness(witness, quoted), witness),
  };
}

function payloadOf(packet: IpPacket, { session }: Witness): Payload {
  return session === true ? { kind: "session", session: 1, packet } : { kind: "ip", packet };
}

function addressOf(numbers: Numbers, field: "source" | "destination"): Address {
  const key = numbers.get(field);
  if (key === undefined) throw new Error(`a witness without ${field}: ${[...numbers.keys()].join(" ")}`);
  return keyAddress(key);
}

function numberOf(numbers: Numbers, field: string, otherwise: number): number {
  const value = numbers.get(field);
  return value === undefined ? otherwise : Number(value);
}

function bodyOf(numbers: Numbers, family: 4 | 6, quoted: IpPacket | undefined): IpBody {
  const protocol = numberOf(numbers, "protocol", UDP);
  const ports = {
    sourcePort: numberOf(numbers, "sourcePort", 40_000),
    destinationPort: numberOf(numbers, "destinationPort", 0),
  };
  if (protocol === UDP) return { kind: "udp", ...ports, data: { kind: "bytes", bytes: NO_BYTES } };
  if (protocol === TCP) return tcpBody(ports, numberOf(numbers, "tcpFlags", TCP_SYN));
  if (protocol === (family === 4 ? ICMP : ICMP6)) return icmpBody(numbers, family, quoted);
  return { kind: "raw", protocol, bytes: protocol === SCTP ? portBytes(ports) : NO_BYTES };
}

function tcpBody(ports: { readonly sourcePort: number; readonly destinationPort: number }, flags: number): IpBody {
  return {
    kind: "tcp",
    ...ports,
    sequence: 0,
    acknowledgement: 0,
    flags,
    window: 65_535,
    urgentPointer: 0,
    options: NO_BYTES,
    data: NO_BYTES,
  };
}

function icmpBody(numbers: Numbers, family: 4 | 6, quoted: IpPacket | undefined): IpBody {
  const type = numberOf(numbers, "icmpType", family === 4 ? 8 : 128);
  const code = numberOf(numbers, "icmpCode", 0);
  const echo = family === 4 ? type === 0 || type === 8 : type === 128 || type === 129;
  if (echo) return { kind: "icmp", type, code, content: { kind: "echo", identifier: 1, sequence: 1, data: NO_BYTES } };
  // A query quotes nothing.
  const isQuery = isQueryType(family === 4 ? PROTOCOL_ICMP : PROTOCOL_ICMPV6, type);
  if (isQuery) return { kind: "icmp", type, code, content: { kind: "other", bytes: AS_ECHO } };
  if (quoted !== undefined) return { kind: "icmp", type, code, content: { kind: "error", quoted } };
  return { kind: "icmp", type, code, content: { kind: "other", bytes: new Uint8Array(4) } };
}

function portBytes(ports: { readonly sourcePort: number; readonly destinationPort: number }): Uint8Array {
  const bytes = new Uint8Array(12);
  const view = new DataView(bytes.buffer);
  view.setUint16(0, ports.sourcePort);
  view.setUint16(2, ports.destinationPort);
  return bytes;
}
