/**
 * The answers with which the engine itself turns packets away; those of rules and routes stand in the description.
 */
import type { IcmpPair, Refusal } from "../network/index.ts";

function icmp(v4: readonly [number, number], v6: readonly [number, number], from: Refusal["from"]): Refusal {
  const error: IcmpPair = { v4: { type: v4[0], code: v4[1] }, v6: { type: v6[0], code: v6[1] } };
  return { answer: { kind: "icmp", error }, from };
}

/** Time exceeded: RFC 1812 section 5.3.1, RFC 4443 section 3.3. */
export const TIME_EXCEEDED: Refusal = icmp([11, 0], [3, 0], "towards-sender");
/** Fragmentation needed: RFC 1812 section 5.2.7.1; packet too big: RFC 4443 section 3.2. */
export const TOO_BIG: Refusal = icmp([3, 4], [2, 0], "towards-sender");
/** Host unreachable, address unreachable: nobody answers on the link (kernel facts 1 and 2). */
export const NO_NEIGHBOUR: Refusal = icmp([3, 1], [1, 3], "towards-sender");
/** Port unreachable, from the address the packet was sent to (kernel fact 5). */
export const NO_LISTENER: Refusal = icmp([3, 3], [1, 4], "addressed");
/** Protocol unreachable; unrecognized next header. RFC 1122 section 3.2.2.1, RFC 4443 section 3.4. */
export const NO_PROTOCOL: Refusal = icmp([3, 2], [4, 1], "addressed");
/** A reset for a closed port: RFC 793 section 3.4. */
export const RESET: Refusal = {
  answer: { kind: "tcp-reset", others: { v4: { type: 3, code: 3 }, v6: { type: 1, code: 4 } } },
  from: "addressed",
};
