/**
 * What to do next about a rule that decided, or about the end of a list: the mending that a person would try first.
 */
import { isSameSpan } from "../diagnose/index.ts";
import { deviceOf, type Network, type Rule } from "../network/index.ts";
import { type Evidence, nameAt } from "../result/index.ts";
import type { CheckContext } from "./context.ts";
import { shortPoolAdvice } from "./short-pools.ts";

/** Nobody listens where something was asked for: the line is that of what listens elsewhere, or of what else is served there. */
function listeningAdvice({ origin }: Evidence, { services }: Network): string | undefined {
  if (origin.by === "absent" && origin.wanted === "this service")
    return "let it be served there, or ask for a service that is";
  const service = services.find((each) => isSameSpan(each.origin.span, origin.span));
  if (service?.kind === "resolve")
    return `add the leg to \`listen\` of the resolver of ${deviceOf(service.stack)}, or let another one be asked`;
  if (service?.kind !== "listen" || service.assumed) return undefined;
  const key = service.administers ? "`listen` of its `admin`" : "that service in `serves`";
  return `add the leg to ${key}, or ask at one where ${deviceOf(service.stack)} listens for it`;
}

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
  const larger = shortPoolAdvice(first.origin, evaluation);
  if (larger !== undefined) return larger;
  const listening = listeningAdvice(first, evaluation.network);
  if (listening !== undefined) return listening;
  const { worlds } = evaluation.worlds();
  const isLoop = worlds.some(({ settled: { storms } }) =>
    storms.some(({ origin }) => isSameSpan(origin.span, first.origin.span)),
  );
  return isLoop ? "pull a cable of the loop, or let its switches cut it by a `spanning-tree`" : "";
}
