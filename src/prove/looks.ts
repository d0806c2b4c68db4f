/**
 * Which fields anything in a network looks at. A field that nothing looks at need not be followed: its values make no
 * difference anywhere.
 */
import type { Alternatives, Field, Network, Step } from "../network/index.ts";

/** Fields that some rule, route step or requirement looks at. */
export function looksOf(network: Network): ReadonlySet<Field> {
  const fields = new Set<Field>();
  const look = (when: Alternatives): void => {
    for (const match of when) for (const { field } of match) fields.add(field);
  };
  for (const table of network.tables) {
    if (table.kind !== "routes") for (const rule of table.rules) look(rule.when);
  }
  for (const stack of network.stacks) {
    for (const step of [...stack.received, ...stack.local, ...stack.onward, ...stack.sent]) lookOf(step, look);
  }
  return fields;
}

function lookOf(step: Step, look: (when: Alternatives) => void): void {
  if (step.op === "require") look(step.that);
  if (step.op === "track") look(step.except);
}
