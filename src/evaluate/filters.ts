/**
 * What became of lists of rules, filters and translations alike: the packets that a changed rule may fit, before or after the edit. All others are
 * decided by the same rule as before. Of a rule of a filter that looks for something else and does the same only those count that it
 * fits now and did not, or did and does not.
 */
import { ANYWHERE, isAlike, type Moves } from "../diagnose/index.ts";
import type { Alternatives, FilterTable, Id, Network, Table, TranslateTable } from "../network/index.ts";

/** An edit of one list. */
export type ListEdit = {
  /** What the rules look for that came, went or changed; "all": the list itself is another one. */
  readonly touched: Alternatives | "all";
  /** What rules looked for that do the same as before, one match each, and what they look for instead. */
  readonly swapped: readonly Swap[];
  /** How many more matches there are than before, those that went aside. */
  readonly added: number;
};

/** One match of a rule, and one that stands in its place. */
type Swap = readonly [before: Alternatives, after: Alternatives];

type RuleTable = FilterTable | TranslateTable;
type AnyRule = RuleTable["rules"][number];

const ANOTHER: ListEdit = { touched: "all", swapped: [], added: 0 };

/** Every list that is not what it was. */
export function filtersChanged(before: Network, after: Network, moves: Moves): ReadonlyMap<Id, ListEdit> {
  const [old, now] = [filtersOf(before), filtersOf(after)];
  const edits = new Map<Id, ListEdit>();
  for (const [id, table] of old) {
    const edit = editOf(table, now.get(id), moves);
    if (edit !== undefined) edits.set(id, edit);
  }
  for (const id of now.keys()) if (!old.has(id)) edits.set(id, ANOTHER);
  return edits;
}

/** Whether a site is cabled and configured as before, whatever became of the rules of its filters and of the names that assertions use. */
export function isAlikeButForFilters(before: Network, after: Network, moves: Moves): boolean {
  const [old, now] = [before, after].map(({ groups: _, tables, ...rest }) => ({
    ...rest,
    tables: tables.map(frameOf),
  }));
  return isAlike(old, now, moves);
}

function frameOf(table: Table): unknown {
  if (table.kind !== "filter") return table;
  const { rules: _, digest: __, ...frame } = table;
  return frame;
}

function filtersOf({ tables }: Network): ReadonlyMap<Id, RuleTable> {
  return new Map(tables.flatMap((table) => (table.kind === "routes" ? [] : [[table.id, table] as const])));
}

function editOf(before: RuleTable, after: RuleTable | undefined, moves: Moves): ListEdit | undefined {
  if (after === undefined) return ANOTHER;
  const { rules: old, digest: _, ...frame } = before;
  const { rules: now, digest: __, ...frameNow } = after;
  if (!isAlike(frame, frameNow, moves)) return ANOTHER;
  const { gone, come } = apart<AnyRule>(old, now, moves);
  if (gone.length === 0 && come.length === 0) return undefined;
  // Packets are told apart by the names that any rule of their list asks for.
  if (!isAlike(namesAskedIn(old), namesAskedIn(now))) return ANOTHER;
  const isPaired = before.kind === "filter" && gone.length === come.length;
  const edits = isPaired ? gone.map((rule, index) => ruleEdit(rule, come[index], moves)) : [];
  const added = come.reduce((sum, { when }) => sum + when.length, 0);
  if (!isPaired) return { touched: [...gone, ...come].flatMap(({ when }) => when), swapped: [], added };
  return {
    touched: edits.flatMap(({ touched }) => touched),
    swapped: edits.flatMap(({ swapped }) => swapped),
    added,
  };
}

/** What is between the first and the last that are not alike. */
function apart<Each>(
  before: readonly Each[],
  after: readonly Each[],
  moves: Moves,
): { readonly gone: readonly Each[]; readonly come: readonly Each[] } {
  const shorter = Math.min(before.length, after.length);
  let head = 0;
  while (head < shorter && isAlike(before[head], after[head], moves)) head++;
  let tail = 0;
  while (tail < shorter - head && isAlike(before.at(-1 - tail), after.at(-1 - tail), moves)) tail++;
  return { gone: before.slice(head, before.length - tail), come: after.slice(head, after.length - tail) };
}

/** A rule in the place of another one. Of what it looks for nobody tells where that is written. */
function ruleEdit(
  before: AnyRule,
  after: AnyRule | undefined,
  moves: Moves,
): Pick<ListEdit, "swapped"> & { readonly touched: Alternatives } {
  const { when: old, ...does } = before;
  const { when: now = [], ...doesNow } = after ?? {};
  const { gone, come } = apart(old, now, ANYWHERE);
  if (!isAlike(does, doesNow, moves) || gone.length !== come.length) return { touched: [...old, ...now], swapped: [] };
  return { touched: [], swapped: gone.map((match, index): Swap => [[match], [come[index] ?? []]]) };
}

function namesAskedIn(rules: RuleTable["rules"]): readonly string[] {
  const fields = rules.flatMap(({ when }) =>
    when.flatMap((match) => match.flatMap((condition) => ("oneOf" in condition ? [condition.field] : []))),
  );
  return [...new Set(fields)].sort();
}
