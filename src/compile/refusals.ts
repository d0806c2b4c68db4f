/**
 * How packets are turned away: the answers of rules and routes, in both families.
 */
import type { IcmpPair, Refusal } from "../network/index.ts";

function pair(v4: readonly [type: number, code: number], v6: readonly [type: number, code: number]): IcmpPair {
  return { v4: { type: v4[0], code: v4[1] }, v6: { type: v6[0], code: v6[1] } };
}

/** RFC 792 and RFC 4443 section 3.1; the IPv6 codes of unreachable and prohibited as in kernel facts 2 and 14. */
type ErrorWord =
  | "network-unreachable"
  | "host-unreachable"
  | "port-unreachable"
  | "prohibited"
  | "route-unreachable"
  | "beyond-scope";

const ERRORS: { readonly [word in ErrorWord]: IcmpPair } = {
  "network-unreachable": pair([3, 0], [1, 0]),
  "host-unreachable": pair([3, 1], [1, 3]),
  "port-unreachable": pair([3, 3], [1, 4]),
  prohibited: pair([3, 13], [1, 1]),
  /** A route that says unreachable: IPv6 has no code of its own for it. */
  "route-unreachable": pair([3, 1], [1, 0]),
  /** Of IPv6 alone; IPv4 is never told so. */
  "beyond-scope": pair([3, 0], [1, 2]),
};

/** Nothing is answered. */
export const SILENT: Refusal = { answer: { kind: "silent" }, from: "towards-sender" };

/** An ICMP error. */
export function icmpRefusal(error: ErrorWord, from: Refusal["from"]): Refusal {
  return { answer: { kind: "icmp", error: ERRORS[error] }, from };
}

/** A TCP reset; other protocols get port unreachable. */
export function resetRefusal(from: Refusal["from"]): Refusal {
  return { answer: { kind: "tcp-reset", others: ERRORS["port-unreachable"] }, from };
}
