/**
 * First match in a filter table, over tests that are made once for each table.
 */
import type { Origin } from "../diagnose/index.ts";
import type { FilterAction, FilterTable, Id } from "../network/index.ts";
import { type Test, testOf } from "./match.ts";
import { type PacketFields, type PacketView, viewOfFields } from "./packet-view.ts";

/** What a table decides for one packet. */
export type FilterVerdict = {
  /** What becomes of the packet. */
  readonly action: FilterAction;
  /** The rule, or the table's otherwise. */
  readonly origin: Origin;
  /** Id of the rule; absent: no rule fits. */
  readonly rule?: Id;
};

type Compiled = readonly { readonly test: Test; readonly verdict: FilterVerdict }[];

const known = new WeakMap<FilterTable, Compiled>();

function compiled(table: FilterTable): Compiled {
  const earlier = known.get(table);
  if (earlier !== undefined) return earlier;
  const rules = table.rules.map(({ id, origin, when, action }) => ({
    test: testOf(when),
    verdict: { action, origin, rule: id },
  }));
  known.set(table, rules);
  return rules;
}

/** The first rule that fits, else the table's otherwise. */
export function askFilter(table: FilterTable, view: PacketView): FilterVerdict {
  for (const { test, verdict } of compiled(table)) if (test(view)) return verdict;
  return table.otherwise;
}

/** The same for plain field values. */
export function filterPacket(table: FilterTable, fields: PacketFields): FilterVerdict {
  return askFilter(table, viewOfFields(fields));
}
