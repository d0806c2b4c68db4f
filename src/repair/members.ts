/**
 * Edits of sets: a name more in one that rules ask for. One such line is what several rules, on several devices, have in common.
 */
import { nodeAt, wordAdded, yamlText } from "../document/index.ts";
import { type Candidate, candidate } from "./candidate.ts";
import { below, type Placed, type Plan, textOf, wordsAt } from "./plan.ts";

/** The sets that a key of a rule names, each with the words that a packet would fit by. */
export function membersAdded(key: string, rule: Placed, words: readonly string[], plan: Plan): readonly Candidate[] {
  if (words.length === 0) return [];
  return wordsAt(below(rule, key)).flatMap((name) => {
    const set = setNamed(name, plan);
    const missing = set === undefined ? [] : words.filter((word) => word !== name && !wordsAt(set).includes(word));
    if (set === undefined || missing.length === 0) return [];
    const all = missing.map(yamlText).join(", ");
    return [candidate("rule", `add \`${all}\` to the set \`${name}\``, set, wordAdded(set.document, set.path, all))];
  });
}

/** Where a set is written that lists its members in brackets; undefined: there is none of this name. */
function setNamed(name: string, plan: Plan): Placed | undefined {
  for (const file of plan.files) {
    const document = textOf(plan, file);
    const path = ["sets", name];
    const node = document && nodeAt(document, path);
    if (document !== undefined && node?.kind === "list" && document.text.charAt(node.span.start) === "[")
      return { file, document, path };
  }
  return undefined;
}
