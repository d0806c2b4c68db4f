/**
 * Sizes that a host tries when a router says "fragmentation needed" without naming a next-hop MTU: the plateau table of
 * RFC 1191 section 7.1, used as its section 5 says.
 */

/** MTUs common on networks, descending. RFC 1191 table 7-1. */
export const MTU_PLATEAUS: readonly number[] = [65535, 32000, 17914, 8166, 4352, 2002, 1492, 1006, 508, 296, 68];

/** The next size to try: the highest plateau below the total length that did not fit, at least 68. */
export function plateauBelow(totalLength: number): number {
  return MTU_PLATEAUS.find((plateau) => plateau < totalLength) ?? 68;
}
