/**
 * Which member of a bond a spanning-tree frame takes. No policy finds addresses of IP in it, so all of them go by hardware
 * addresses and the type field (kernel fact 45), which holds a length here: 3 bytes of LLC and 35 of a configuration BPDU.
 */
import type { Hardware } from "../address/index.ts";

/** Last octet of 01:80:c2:00:00:00, to which they are sent. */
const GROUP_OCTET = 0x00;
const LENGTH = 38;

/** The hash of a frame from this address; the member is its remainder by their number. */
export function treeFrameHash(source: Hardware): number {
  return Number(source & 0xffn) ^ GROUP_OCTET ^ LENGTH;
}
