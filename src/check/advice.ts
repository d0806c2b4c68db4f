/**
 * What to do next about a rule that decided, or about the end of a list: the mending that a person would try first.
 */
import { isSameSpan } from "../diagnose/index.ts";
import type { Rule } from "../network/index.ts";
import { type Evidence, nameAt } from "../result/index.ts";
import type { CheckContext } from "./context.ts";

/** The advice for the primary deciding line; empty where the line says it all. */
export function adviceFor(decidedBy: readonly Evidence[], { evaluation, names }: CheckContext): string {
  const [first] = decidedBy;
  if (first === undefined) return "";
  const name = nameAt(first.origin, names) ?? "this rule";
  const isHere = ({ origin }: Pick<Rule<unknown>, "origin">) => isSameSpan(origin.span, first.origin.span);
  for (const table of evaluation.network.tables) {
    if (table.kind !== "filter") continue;
    const { rules, otherwise } = table;
    const rule = rules.find(isHere);
    if (rule !== undefined) {
      const other = rule.action.do === "accept" ? "stop" : "accept";
      return `narrow ${name}, or ${other} such packets in a rule before it`;
    }
    if (isHere(otherwise)) {
      return otherwise.action.do === "accept"
        ? `stop such packets in a rule before ${name}, or let it be \`drop\``
        : `mend the rule that was to accept such packets, or add one before ${name}`;
    }
  }
  const { worlds } = evaluation.worlds();
  const isLoop = worlds.some(({ settled: { storms } }) =>
    storms.some(({ origin }) => isSameSpan(origin.span, first.origin.span)),
  );
  return isLoop ? "pull a cable of the loop, or let its switches cut it by a `spanning-tree`" : "";
}
