/**
 * Options of neighbour discovery: link-layer addresses, prefix, MTU (RFC 4861 section 4.6, RFC 2464 section 6) and
 * resolvers (RFC 8106, from memory). Lengths count units of 8 bytes. Unknown types survive as bytes.
 */
import type { Address, Hardware } from "../address/index.ts";

/** One option of a neighbour discovery message. */
export type NeighbourOption =
  | {
      /** Type 1: the sender's own hardware address. Type 2: the target's. */
      readonly kind: "source-link" | "target-link";
      /** An Ethernet address. */
      readonly hardware: Hardware;
    }
  | {
      /** Type 3: a prefix of this link. */
      readonly kind: "prefix";
      /** First address of the prefix; bits behind `length` are ignored by receivers. */
      readonly prefix: Address;
      /** Prefix length, 0 to 128. */
      readonly length: number;
      /** Flag L: addresses of the prefix are on this link. */
      readonly onLink: boolean;
      /** Flag A: hosts may form addresses from it. */
      readonly autonomous: boolean;
      /** Time the prefix stays valid; 0xffffffff is for ever. */
      readonly validSeconds: number;
      /** Time its addresses stay preferred; 0xffffffff is for ever. */
      readonly preferredSeconds: number;
    }
  | {
      /** Type 5: the MTU of this link. */
      readonly kind: "mtu";
      /** Bytes of the largest IP packet. */
      readonly mtu: number;
    }
  | {
      /** Type 25: recursive resolvers. */
      readonly kind: "resolvers";
      /** Time they may be used; 0: no longer. */
      readonly lifetimeSeconds: number;
      /** IPv6 addresses, at least one. */
      readonly addresses: readonly Address[];
    }
  | {
      /** Any other type. */
      readonly kind: "other";
      /** Option type. */
      readonly type: number;
      /** Content behind type and length; 6 bytes more than a multiple of 8. */
      readonly bytes: Uint8Array;
    };
