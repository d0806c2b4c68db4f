/**
 * Why an exchange did not come to its end: in a sentence, and the lines behind it.
 */
import { isLinkLocal } from "../address/index.ts";
import { isSameSpan, type Origin } from "../diagnose/index.ts";
import type { World } from "../evaluate/index.ts";
import type { Fate, Id, Network } from "../network/index.ts";
import { type Names, tellFate } from "../result/index.ts";
import type { BindingFailure, ProbeResult } from "../simulate/index.ts";
import type { CheckContext } from "./context.ts";
import { isFailureOf, tellLack } from "./families.ts";
import { lackOf, networkOfEnd } from "./lack.ts";
import { reasonsWithoutLease } from "./lease-reason.ts";
import { otherUplink } from "./other-uplink.ts";
import { reasonsFor } from "./reason.ts";
import { stackIn } from "./rest.ts";
import { sharedHardware } from "./shared-hardware.ts";
import { tunnelReasons } from "./tunnel-reason.ts";
import { withModes } from "./unlike-bonds.ts";

/** Why an exchange did not come to its end, in a sentence. */
export function failureText(
  result: ProbeResult,
  world: World,
  { names, evaluation }: { readonly names: Names; readonly evaluation: CheckContext["evaluation"] },
): string {
  const lacking = missingUplink(result, world);
  const shared = sharedHardware(result, { network: evaluation.network, settled: world.settled });
  const itself = failureItself(result, world, { names, network: evaluation.network });
  if (shared !== undefined) return `${itself}; ${shared.text}`;
  if (lacking === undefined) return itself;
  const reason = `${lacking.interface} ${tellLack(lacking)}`;
  return wayless(result) === undefined ? reason : `${itself}; ${reason}`;
}

/**
 * The interface without an address of the version asked for that leaves a stack without a way, since it would have brought the route, or
 * a sender without another source than its link-local address, which leads to no other link.
 */
export function missingUplink(result: ProbeResult, { failures, settled }: World): BindingFailure | undefined {
  const at = wayless(result)?.at ?? confined(result, settled);
  const { family } = result.request.destination;
  const legs = at === undefined ? [] : (stackIn(settled, at)?.interfaces ?? []);
  const bare = legs.filter(({ addresses }) => !addresses.some((each) => each.family === family && !isLinkLocal(each)));
  return failures.find(
    (failure) => isFailureOf(failure, family) && bare.some((leg) => leg.interface === failure.interface),
  );
}

/** The sender whose request was not sent on, as it came from a link-local address. */
function confined({ fate, request: { source } }: ProbeResult, { stacks }: World["settled"]): Id | undefined {
  if (!isLinkLocal(source) || !("reason" in fate) || fate.reason !== "not-forwardable") return undefined;
  const isIts = ({ value }: { readonly value: bigint }): boolean => value === source.value;
  return stacks.find(({ interfaces }) => interfaces.some(({ addresses }) => addresses.some(isIts)))?.stack;
}

/** The end of what found no route, there or back. */
function wayless({ fate, answerFate }: ProbeResult): Fate | undefined {
  const end = fate.end === "delivered" ? answerFate : fate;
  return end !== undefined && "reason" in end && end.reason === "no-route" ? end : undefined;
}

function failureItself(
  result: ProbeResult,
  { settled }: World,
  { names, network }: { readonly names: Names; readonly network: Network },
): string {
  if (settled.storms.some(({ origin }) => origin === result.decidedBy[0]))
    return "it drowns in a loop that nothing cuts";
  const { fate, path, answerFate, answerPath } = result;
  const other = otherUplink(result, network)?.text;
  const lost =
    other ?? (answerFate === undefined ? tellFate(fate, names, path) : tellFate(answerFate, names, answerPath));
  if (result.stalls === true) return `opens, then stalls: ${lost}`;
  if (fate.end !== "delivered") return tellFate(fate, names, path);
  if (answerFate === undefined) return "the request arrives, and no answer comes";
  if (result.outcome.end === "reset" || result.outcome.end === "refused")
    return "the far end turns it away: nothing listens there";
  return other ?? `the answer is lost: ${lost}`;
}

/** Lines behind an exchange that failed, the one to change first. */
export function linesFor(result: ProbeResult, world: World, network: Network): readonly Origin[] {
  const lacking = missingUplink(result, world);
  const uplink = lacking === undefined ? withoutSession(result, world, network) : becauseOf(lacking, world, network);
  const place = { network, settled: world.settled };
  const shared = sharedHardware(result, place);
  const reasons = [
    ...(shared === undefined ? [] : [shared.origin]),
    ...tunnelReasons(result, world, network),
    ...reasonsFor(result, place),
  ];
  const lines = [...reasons, ...uplink, ...result.decidedBy].map((origin) => withModes(origin, network));
  const missed = networkOfEnd(result, network);
  return missed === undefined ? lines : lines.map((origin) => lackOf(origin, missed));
}

/** Sessions that are not up at a stack without a way: routes by them are not there either. */
function withoutSession(result: ProbeResult, { settled }: World, network: Network): readonly Origin[] {
  const end = wayless(result);
  if (end === undefined) return [];
  const legs = network.stacks.find(({ id }) => id === end.at)?.interfaces ?? [];
  const atRest = stackIn(settled, end.at)?.interfaces ?? [];
  return legs.flatMap(({ id, session }) => {
    const isUp = atRest.some((leg) => leg.interface === id && leg.up);
    return session === undefined || isUp ? [] : [session.origin];
  });
}

/** Lines behind an address that did not come, the one to change first. */
export function becauseOf(failure: BindingFailure, { settled }: World, network: Network): Origin[] {
  const reasons = reasonsWithoutLease(failure.interface, { network, settled });
  const lacking = failure.awaited === "advertisement" ? withoutPrefix(failure.interface, network) : [];
  const untold = lacking.filter((origin) => !failure.because.some((each) => isSameSpan(each.span, origin.span)));
  return [...reasons, ...untold, ...failure.because].map((origin) => withModes(origin, network));
}

/** Where it would be said that a network which a leg stands in is delegated its prefix. */
function withoutPrefix(leg: Id, { groups }: Network): readonly Origin[] {
  return groups.flatMap(({ interfaces, lacking }) => (lacking && interfaces.includes(leg) ? [lacking] : []));
}
