/**
 * Forwards on the way of a packet: what it is sent to is not whom it gets to.
 */
import { lastName, type Network, type PathStep, type Rule, type TranslateAction } from "../network/index.ts";

/** The rule for destinations by which a step translated a packet; undefined: it did something else, or translated the source. */
export function forwardAt({ did, origin }: PathStep, { tables }: Network): Rule<TranslateAction> | undefined {
  if (did !== "translate") return undefined;
  const forwards = tables.flatMap((table) =>
    table.kind === "translate" && lastName(table.id) === "dest" ? table.rules : [],
  );
  return forwards.find((rule) => rule.origin === origin);
}
