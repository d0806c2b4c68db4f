/** Bytes as spaced hex, `00*16` for a run; addresses as text; the small values that many wire tests share. */
import { type Address, type Hardware, parseAddress, parseHardware } from "../../src/address/index.ts";
import type { Frame, IpBody, IpPacket, Payload, TcpSegment } from "../../src/wire/index.ts";

/** Reads bytes from spaced hex; white space is free, `00*16` repeats one byte. */
export function hex(text: string): Uint8Array {
  const words = text.trim().split(/\s+/).filter(Boolean);
  return Uint8Array.from(words.flatMap(run));
}

/** Writes bytes as spaced hex. */
export function toHex(bytes: Uint8Array): string {
  return Buffer.from(bytes)
    .toString("hex")
    .replace(/..(?=.)/g, "$& ");
}

function run(word: string): number[] {
  const [digits = "", count = "1"] = word.split("*");
  const bytes = [...Buffer.from(digits, "hex")];
  if (bytes.length * 2 !== digits.length) throw new Error(`not hex: ${word}`);
  return Array.from({ length: Number(count) }, () => bytes).flat();
}

export function ip(text: string): Address {
  return parseAddress(text) ?? fail(text);
}

export function mac(text: string): Hardware {
  return parseHardware(text) ?? fail(text);
}

function fail(text: string): never {
  throw new Error(`not an address: ${text}`);
}

export const LAPTOP: Hardware = mac("02:00:00:00:0a:01");
export const ROUTER: Hardware = mac("02:00:00:00:0b:02");

/** A whole, unremarkable packet. */
export function packet(source: string, destination: string, body: IpBody, more: Partial<IpPacket> = {}): IpPacket {
  return {
    source: ip(source),
    destination: ip(destination),
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

/** A frame from laptop to router. */
export function frame(payload: Payload, more: Partial<Frame> = {}): Frame {
  return { destination: ROUTER, source: LAPTOP, tags: [], payload, ...more };
}

export function udp(sourcePort: number, destinationPort: number, bytes: Uint8Array = new Uint8Array(0)): IpBody {
  return { kind: "udp", sourcePort, destinationPort, data: { kind: "bytes", bytes } };
}

export function segment(more: Partial<TcpSegment> = {}): TcpSegment {
  const none = new Uint8Array(0);
  return {
    sourcePort: 3017,
    destinationPort: 23,
    flags: 0,
    sequence: 1,
    acknowledgement: 0,
    window: 64240,
    options: none,
    data: none,
    ...more,
  };
}
