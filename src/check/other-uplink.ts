/**
 * Answers that leave by another uplink than the request came in by. What becomes of one out there differs (a reset, or nothing at
 * all) and tells nothing: whoever asked is not at that provider, and it serves nobody the address that the answer comes from
 * (RFC 2827 section 3).
 */
import type { Origin } from "../diagnose/index.ts";
import { deviceOf, type Network } from "../network/index.ts";
import type { ProbeResult } from "../simulate/index.ts";

/** Where such an answer went, and who sent it there. */
export type OtherUplink = {
  /** A sentence fragment. */
  readonly text: string;
  /** The line of the route. */
  readonly origin: Origin;
};

/** How an answer got to an upstream where nobody asked; undefined: none did. */
export function otherUplink(
  { fate, answerFate, answerPath, outcome, path }: ProbeResult,
  { stacks }: Network,
): OtherUplink | undefined {
  if (fate.end !== "delivered" || answerFate === undefined) return undefined;
  const isLost = answerFate.end === "delivered" || ("reason" in answerFate && answerFate.reason === "stray");
  const isBeyond = (at: string): boolean =>
    stacks.some(({ id, answersFor }) => id === at && answersFor === "everywhere");
  const [began] = path;
  const [arrival] = outcome.arrivals;
  if (!isLost || !isBeyond(answerFate.at) || began?.at === answerFate.at) return undefined;
  // An upstream that was asked is where its answers begin: they went nowhere.
  if (arrival?.device === deviceOf(answerFate.at)) return undefined;
  const led = answerPath.findLast(({ did, at }) => did === "route" && !isBeyond(at));
  if (began === undefined || led === undefined) return undefined;
  const came = path.findLast(({ did, at }) => did === "transmit" && isBeyond(at));
  // One that brought the request as well is no other one.
  if (came?.at === answerFate.at) return undefined;
  const beside = came === undefined ? "" : `, and the request came in by ${deviceOf(came.at)}`;
  return { text: `the answer leaves by ${deviceOf(answerFate.at)}${beside}`, origin: led.origin };
}
