/**
 * The help where a host took a packet on one leg for the address of another one, as hosts do unless they are told otherwise (kernel
 * facts 3 and 4; RFC 1122 section 3.3.4.2): `host-model: strong`, where what must be blocked would be blocked then. That is proved, on
 * the same site with that host changed.
 */
import { isSameSpan } from "../diagnose/index.ts";
import { Evaluation } from "../evaluate/index.ts";
import { deviceOf, type Stack } from "../network/index.ts";
import type { CheckContext, Finding } from "./context.ts";

/** How the deciding line of such a packet is told. */
export const STRONG = "`host-model: strong`";

/** What to do; undefined: no host is to blame, or it would not help, or what failed besides is not looked into. `judge` judges the same again. */
export function helpByStrongHost(
  { status, decidedBy: [first] }: Pick<Finding, "status" | "decidedBy">,
  context: CheckContext,
  judge: (context: CheckContext) => Pick<Finding, "status">,
): string | undefined {
  const { evaluation } = context;
  const { network } = evaluation;
  if (status !== "failed" || first?.origin.by !== "absent" || first.origin.wanted !== STRONG) return undefined;
  if (!evaluation.isLeftAlone) return undefined;
  const { span } = first.origin;
  const host = network.stacks.find(({ origin }) => isSameSpan(origin.span, span));
  if (host === undefined) return undefined;
  const stacks = network.stacks.map((stack) => (stack === host ? strong(stack) : stack));
  const then = judge({ ...context, evaluation: new Evaluation({ ...network, stacks }) });
  if (then.status !== "passed") return undefined;
  return `write \`host-model: strong\` for ${deviceOf(host.id)}: it then answers for an address only on the leg that has it`;
}

function strong(stack: Stack): Stack {
  return { ...stack, answersFor: "this-leg", digest: `${stack.digest} strong` };
}
