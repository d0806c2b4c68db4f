/**
 * Which line let a packet through that should not have come: the last decision on its way that could have stopped it.
 * A rule that accepted it, else a translation or a route that led it on, else the membership that carried it across.
 */
import { deviceOf, type FateClass, type PathStep } from "../network/index.ts";
import { type Evidence, tellFate } from "../result/index.ts";
import type { CheckContext } from "./context.ts";

/** Steps that can be blamed, most telling first. */
const ORDER: readonly (readonly string[])[] = [
  ["filter"],
  ["translate"],
  ["classify", "egress-member", "ingress-member", "tag"],
  ["route"],
  ["deliver"],
];

/** The deciding lines of a packet that got through, the primary one first. */
export function blameFor(reached: FateClass, context: CheckContext): Evidence[] {
  const ranked = ORDER.flatMap((words) => lastOf(reached.path, words));
  const steps = ranked.length > 0 ? ranked : reached.path.slice(-1);
  const seen = new Set<string>();
  return steps.flatMap((step) => {
    const { file, start, end } = step.origin.span;
    const key = `${file}:${start}:${end}`;
    if (seen.has(key)) return [];
    seen.add(key);
    return [{ origin: step.origin, text: textOf(step, reached, context) }];
  });
}

/** The last steps of these kinds, latest first; rules and words that were written come before defaults. */
function lastOf(path: readonly PathStep[], words: readonly string[]): PathStep[] {
  const steps = path.filter((step) => words.includes(step.did)).reverse();
  const written = steps.filter((step) => step.origin.by === "written");
  return [...written, ...steps.filter((step) => step.origin.by !== "written")];
}

function textOf(step: PathStep, reached: FateClass, context: CheckContext): string {
  const { file, start, end } = step.origin.span;
  const name = context.names.get(`${file}:${start}:${end}`);
  if (step.did === "filter") return `accepted by ${name ?? "a list with no rule against it"}`;
  if (step.did === "translate") return `translated by ${name ?? "a rule"}`;
  if (step.did === "route") return `${deviceOf(step.at)} sends it on`;
  if (step.did === "deliver") return tellFate(reached.fate, context.names);
  return `carried across at ${step.at}`;
}
