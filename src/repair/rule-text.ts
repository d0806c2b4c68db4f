/**
 * Rules as text: one that is put into a list, in one line, its conditions in the order in which people write them.
 */
import { entryAdded, itemAdded, itemRemoved, nodeAt, type TextEdit, yamlList, yamlText } from "../document/index.ts";
import { type FilterTable, lastName } from "../network/index.ts";
import { below, type Placed, type Plan, placeIn } from "./plan.ts";

/** What a rule asks and does; a list without words asks nothing. */
export type RuleWords = {
  /** Its name, made different where the list has it already. */
  readonly name: string;
  /** Conditions by key. */
  readonly asks: readonly (readonly [key: string, words: readonly string[]])[];
  /** What it does. */
  readonly action: "accept" | "drop";
};

/** The rule in one line. */
export function ruleText({ name, asks, action }: RuleWords, taken: readonly string[] = []): string {
  const conditions = asks.flatMap(([key, words]) => (words.length === 0 ? [] : [`${key}: ${yamlList(words)}`]));
  return `{ ${[`name: ${yamlText(freeName(name, taken))}`, ...conditions, `action: ${action}`].join(", ")} }`;
}

function freeName(name: string, taken: readonly string[]): string {
  if (!taken.includes(name)) return name;
  const numbers = Array.from({ length: taken.length + 1 }, (_, index) => `${name} ${index + 2}`);
  return numbers.find((each) => !taken.includes(each)) ?? name;
}

/** A name longer than this names the first of several ends alone: the line of a rule is read in 80 columns. */
const LONG_NAME = 60;

/** `crew and desk to archive`; of many `crew and 7 more to archive`: whoever is meant is told by the rule's own conditions and the assertion. */
export function nameOfEnds(from: readonly string[], joined: "to" | "not to", to: readonly string[]): string {
  const whole = `${from.join(" and ")} ${joined} ${to.join(" and ")}`;
  return whole.length <= LONG_NAME ? whole : `${firstAndMore(from)} ${joined} ${firstAndMore(to)}`;
}

function firstAndMore([first = "", ...others]: readonly string[]): string {
  return others.length < 2 ? [first, ...others].join(" and ") : `${first} and ${others.length} more`;
}

/** Where a list of rules stands, `filter.through` of a device. */
export function listPlace(plan: Plan, table: FilterTable): Placed | undefined {
  const place = placeIn(plan, table.origin.span);
  const at = place?.path.indexOf("filter") ?? -1;
  return place === undefined || at < 0 ? undefined : { ...place, path: place.path.slice(0, at + 2) };
}

/** Where one of its rules stands. */
export function rulePlace(list: Placed, at: number): Placed {
  return below(list, "rules", at);
}

/** A rule put before the one at a position. */
export function ruleAdded(list: Placed, table: FilterTable, at: number, words: RuleWords): readonly TextEdit[] {
  const text = ruleText(
    words,
    table.rules.map(({ id }) => lastName(id)),
  );
  const rules = below(list, "rules");
  if (nodeAt(list.document, rules.path)?.kind !== "list")
    return entryAdded(list.document, list.path, { key: "rules", value: `[${text}]` });
  return itemAdded(list.document, rules.path, at, text);
}

/** A rule moved before another one that stands above it, or behind one that stands below it. */
export function ruleMoved(list: Placed, from: number, to: number): readonly TextEdit[] {
  const { document, path } = below(list, "rules");
  const node = nodeAt(document, [...path, from]);
  if (node === undefined) throw new Error(`no rule ${from}`);
  const text = document.text.slice(node.span.start, node.span.end);
  return [...itemAdded(document, path, to < from ? to : to + 1, text), ...itemRemoved(document, path, from)];
}

/** How a rule is called in sentences. */
export function ruleName(table: FilterTable, at: number): string {
  const rule = table.rules[at];
  return rule === undefined ? "the end of the list" : `\`${lastName(rule.id)}\``;
}

/** How a list is called in sentences. */
export function listName(table: FilterTable): string {
  return `the \`${lastName(table.id)}\` list of ${table.id.split("/")[0]}`;
}
