/**
 * What became of lists of rules, filters and translations alike: the packets that a changed rule may fit, before or after the edit. All others are
 * decided by the same rule as before.
 */
import { isAlike, type Moves } from "../diagnose/index.ts";
import type { Alternatives, FilterTable, Id, Network, Table, TranslateTable } from "../network/index.ts";

/** An edit of one list. */
export type ListEdit = {
  /** What the rules look for that came, went or changed; "all": the list itself is another one. */
  readonly touched: Alternatives | "all";
  /** How many more matches there are than before, those that went aside. */
  readonly added: number;
};

type RuleTable = FilterTable | TranslateTable;

const ANOTHER: ListEdit = { touched: "all", added: 0 };

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
  const shorter = Math.min(old.length, now.length);
  let head = 0;
  while (head < shorter && isAlike(old[head], now[head], moves)) head++;
  if (head === old.length && head === now.length) return undefined;
  let tail = 0;
  while (tail < shorter - head && isAlike(old.at(-1 - tail), now.at(-1 - tail), moves)) tail++;
  const [gone, come] = [old, now].map((rules) => rules.slice(head, rules.length - tail).flatMap(({ when }) => when));
  // Packets are told apart by the names that any rule of their list asks for.
  if (!isAlike(namesAskedIn(old), namesAskedIn(now))) return ANOTHER;
  return { touched: [...(gone ?? []), ...(come ?? [])], added: come?.length ?? 0 };
}

function namesAskedIn(rules: RuleTable["rules"]): readonly string[] {
  const fields = rules.flatMap(({ when }) =>
    when.flatMap((match) => match.flatMap((condition) => ("oneOf" in condition ? [condition.field] : []))),
  );
  return [...new Set(fields)].sort();
}
