/**
 * Lines behind a resolver that was asked in vain: what decided, and who told it. A device that was named as a resolver and runs none is
 * told at itself: what else it serves, its administration for one, is not where that would be mended.
 */
import { formatAddress, keyAddress, single } from "../address/index.ts";
import { isSameSpan, type Origin } from "../diagnose/index.ts";
import type { Id } from "../network/index.ts";
import { deviceName, type Evidence } from "../result/index.ts";
import { listenersOf, stoppedFor } from "./assumptions.ts";
import type { Answer } from "./question.ts";
import { covers, ownersOf, type Place } from "./rest.ts";

/** A resolver that somebody was told to ask. */
export type Told = {
  /** Key of its address. */
  readonly address: bigint;
  /** The line that says so. */
  readonly origin: Origin;
};

const UDP = 17;
const PORT = single(53n);

/** The stack at which nobody listened for a question; undefined: it ended otherwise. */
export function unheardAt({ outcome }: Answer): Id | undefined {
  const fate = outcome?.result.fate;
  return fate?.end === "refused" && fate.reason === "no-listener" ? fate.at : undefined;
}

/** What to do where a stack that was asked runs no resolver at all. */
export function helpWithoutResolver(at: Id): string {
  return `name a resolver that works in the place of ${deviceName(at)}, or let ${deviceName(at)} run one`;
}

/**
 * Lines behind a question in vain with the one that tells `who` (as people know it) to ask there. Where an address of a network here is
 * nobody's, or was written for somebody who runs no resolver (`bare`, a stack), that line is the one to change; else it comes after what
 * decided.
 */
export function withTelling(
  { decidedBy, who, server: { address, origin }, bare }: InVain,
  { network, settled }: Place,
): readonly Evidence[] {
  const absent = bare === undefined ? undefined : absentResolver(bare, network);
  const lines = absent === undefined ? decidedBy : [absent];
  if (lines.some((each) => isSameSpan(each.origin.span, origin.span))) return lines;
  const asked = keyAddress(address);
  const told = { origin, text: `tells ${who} to ask ${formatAddress(asked)}` };
  const legs = settled.stacks.flatMap(({ interfaces }) => interfaces.flatMap(({ addresses }) => addresses));
  const isNobodys = ownersOf(asked, settled).length === 0 && legs.some((own) => covers(own, asked));
  const isMeant = absent !== undefined && origin.by === "written";
  return isNobodys || isMeant ? [told, ...lines] : [...lines, told];
}

type InVain = {
  readonly decidedBy: readonly Evidence[];
  readonly who: string;
  readonly server: Told;
  readonly bare: Id | undefined;
};

/** That a stack has no `resolver`, at its device; undefined: something else there would take the question, or did until it was stopped. */
function absentResolver(at: Id, network: Place["network"]): Evidence | undefined {
  const wanted = { protocol: UDP, ports: PORT };
  if (listenersOf(network, at, wanted).length > 0 || stoppedFor(network, at, wanted) !== undefined) return undefined;
  const stack = network.stacks.find(({ id }) => id === at);
  if (stack === undefined) throw new Error(`no stack ${at}`);
  const { span } = stack.origin;
  return { origin: { by: "absent", wanted: "`resolver`", span }, text: `${deviceName(at)} runs no resolver` };
}
