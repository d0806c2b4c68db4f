/**
 * DHCPv4 message (RFC 2131 section 2): 236 fixed bytes, magic cookie, options ending with 255. Options stay an
 * ordered list of code and bytes, so unknown ones survive; `dhcp-options.ts` reads the known ones.
 */
import type { Address, Hardware } from "../address/index.ts";

/** Well-known UDP port of servers and relays. RFC 2131 section 4.1. */
export const DHCP_SERVER_PORT = 67;
/** Well-known UDP port of clients. RFC 2131 section 4.1. */
export const DHCP_CLIENT_PORT = 68;
/** Bit of `flags`: answers have to be broadcast. RFC 2131 figure 2. */
export const DHCP_BROADCAST = 0x8000;
/** `operation` of what clients send. */
export const BOOT_REQUEST = 1;
/** `operation` of what servers send. */
export const BOOT_REPLY = 2;

/** One option as it stands in the message. */
export type DhcpOption = {
  /** Option code, 1 to 254 (RFC 2132). */
  readonly code: number;
  /** Its content, without code and length; at most 255 bytes. */
  readonly bytes: Uint8Array;
};

/** A DHCPv4 message; the hardware type is always Ethernet. */
export type DhcpMessage = {
  /** 1 from client, 2 from server (`op`). */
  readonly operation: number;
  /** Relays passed (`hops`). */
  readonly hops: number;
  /** Random number that ties answers to questions (`xid`), 32 bits. */
  readonly transaction: number;
  /** Seconds since the client began (`secs`). */
  readonly seconds: number;
  /** `DHCP_BROADCAST` or 0. */
  readonly flags: number;
  /** Address the client has and answers on (`ciaddr`), else 0.0.0.0. */
  readonly clientAddress: Address;
  /** Address given to the client (`yiaddr`). */
  readonly yourAddress: Address;
  /** Server of the next boot step (`siaddr`). */
  readonly nextServer: Address;
  /** Relay that forwarded the message (`giaddr`), else 0.0.0.0. */
  readonly relayAddress: Address;
  /** Hardware address of the client (`chaddr`). */
  readonly clientHardware: Hardware;
  /** `sname` without trailing zeros, at most 64 bytes. Default: empty. */
  readonly serverName?: Uint8Array;
  /** `file` without trailing zeros, at most 128 bytes. Default: empty. */
  readonly bootFile?: Uint8Array;
  /** Options in order of appearance; pads and the end mark are left out. */
  readonly options: readonly DhcpOption[];
};
