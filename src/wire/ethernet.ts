/**
 * Ethernet II header with a stack of VLAN tags (IEEE 802.3 and 802.1Q; EtherTypes of tags from the 802.1Q YANG module,
 * the rest from memory). 14 bytes and 4 for each tag; the frame check sequence is never part of the bytes.
 */

/** EtherType of a customer tag. IEEE 802.1Q. */
export const TPID_CUSTOMER = 0x8100;
/** EtherType of a service tag. IEEE 802.1Q. */
export const TPID_SERVICE = 0x88a8;

/** A VLAN tag. */
export type Tag = {
  /** `TPID_CUSTOMER` or `TPID_SERVICE`. */
  readonly tpid: number;
  /** Priority code point, 0 to 7. */
  readonly priority: number;
  /** Drop eligible indicator. */
  readonly dropEligible: boolean;
  /** VLAN identifier, 12 bits; 0 carries priority only. */
  readonly vlan: number;
};
