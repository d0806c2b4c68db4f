/**
 * The structured Ethernet frame that the simulator moves. Lengths, checksums and padding are not part of it;
 * `emitFrame` computes them. The frame check sequence is never written.
 */
import type { Hardware } from "../address/index.ts";
import type { ArpPacket } from "./arp.ts";
import type { Bpdu } from "./bpdu.ts";
import type { Tag } from "./ethernet.ts";
import type { Lacpdu } from "./lacp.ts";
import type { IpPacket } from "./packet.ts";

/** An Ethernet frame. */
export type Frame = {
  /** To which hardware address. */
  readonly destination: Hardware;
  /** From which hardware address. */
  readonly source: Hardware;
  /** VLAN tags, outermost first; empty for an untagged frame. */
  readonly tags: readonly Tag[];
  /** What the frame carries. */
  readonly payload: Payload;
};

/** What an Ethernet frame carries. */
export type Payload =
  | {
      /** EtherType 0x0806. */
      readonly kind: "arp";
      /** The packet. */
      readonly arp: ArpPacket;
    }
  | {
      /** EtherType 0x0800 or 0x86dd, after the packet's family. */
      readonly kind: "ip";
      /** The packet. */
      readonly packet: IpPacket;
    }
  | {
      /** EtherType 0x8809, subtype 1. */
      readonly kind: "lacp";
      /** The protocol data unit. */
      readonly lacpdu: Lacpdu;
    }
  | {
      /** Length instead of EtherType, LLC 42 42 03. */
      readonly kind: "bpdu";
      /** The protocol data unit. */
      readonly bpdu: Bpdu;
    }
  | {
      /** Any other LLC frame: length instead of EtherType. */
      readonly kind: "llc";
      /** LLC header and what follows it; at most 1500 bytes. */
      readonly bytes: Uint8Array;
    }
  | {
      /** Any other EtherType. */
      readonly kind: "other";
      /** 0x0600 to 0xffff. */
      readonly etherType: number;
      /** Everything behind the EtherType, padding included. */
      readonly bytes: Uint8Array;
    };
