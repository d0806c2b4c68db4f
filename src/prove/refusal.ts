/**
 * How a packet that is turned away ends: silently, or with an answer by its protocol and family.
 */
import type { Origin } from "../diagnose/index.ts";
import type { DropReason, Fate, Id, Refusal } from "../network/index.ts";
import { TCP_FLAGS } from "./fields.ts";
import type { Flow } from "./flow.ts";
import { familyOf, has } from "./tracking.ts";

/** Time exceeded: RFC 1812 section 5.3.1, RFC 4443 section 3.3. */
export const TIME_EXCEEDED: Refusal = icmp([11, 0], [3, 0]);
/** Packet too big; fragmentation needed: RFC 4443 section 3.2, RFC 1812 section 5.2.7.1. */
export const TOO_BIG: Refusal = icmp([3, 4], [2, 0]);
/** Nobody answers on the link: kernel facts 1 and 2. */
export const NO_NEIGHBOUR: Refusal = icmp([3, 1], [1, 3]);

function icmp([type4, code4]: readonly [number, number], [type6, code6]: readonly [number, number]): Refusal {
  const error = { v4: { type: type4, code: code4 }, v6: { type: type6, code: code6 } };
  return { answer: { kind: "icmp", error }, from: "towards-sender" };
}

/** The end of packets that are turned away at a place. */
export function turnedAway(at: Id, origin: Origin, reason: DropReason, refusal: Refusal, flow: Flow): Fate {
  const { answer, silentFor } = refusal;
  if (answer.kind === "silent" || silentFor === familyOf(flow)) return { at, origin, end: "dropped", reason };
  if (answer.kind === "tcp-reset" && has(flow, TCP_FLAGS)) return { at, origin, end: "refused", reason };
  const pair = answer.kind === "tcp-reset" ? answer.others : answer.error;
  return { at, origin, end: "refused", reason, icmp: familyOf(flow) === 4 ? pair.v4 : pair.v6 };
}
