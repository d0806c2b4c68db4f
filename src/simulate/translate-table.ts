/**
 * First match in a translation table, with what the match had at the end that is rewritten: the nth address or port
 * matched becomes the nth of the new ones.
 */
import type { Ranges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Id, Match, TranslateAction, TranslateTable } from "../network/index.ts";
import { type Test, testOfMatch } from "./match.ts";
import type { PacketView } from "./packet-view.ts";

/** What a table decides for the first packet of a connection. */
export type TranslateVerdict = {
  /** What the rule, or the table's otherwise, does. */
  readonly action: TranslateAction;
  /** The line that decides. */
  readonly origin: Origin;
  /** Id of the rule; absent: no rule fits. */
  readonly rule?: Id;
  /** The match that fits; absent with the rule. */
  readonly match?: Match;
};

type Compiled = readonly { readonly test: Test; readonly verdict: TranslateVerdict }[];

const known = new WeakMap<TranslateTable, Compiled>();

function compiled(table: TranslateTable): Compiled {
  const earlier = known.get(table);
  if (earlier !== undefined) return earlier;
  const rules = table.rules.flatMap(({ id, origin, when, action }) =>
    when.map((match) => ({ test: testOfMatch(match), verdict: { action, origin, rule: id, match } })),
  );
  known.set(table, rules);
  return rules;
}

/** The first rule that fits, else the table's otherwise. */
export function askTranslation(table: TranslateTable, view: PacketView): TranslateVerdict {
  for (const { test, verdict } of compiled(table)) if (test(view)) return verdict;
  return table.otherwise;
}

/** Fields of a match that are addresses or ports. */
type MatchedField = "source" | "destination" | "sourcePort" | "destinationPort";

/** How far into the matched values of a field a value (an address key or a port) lies; 0 where the match does not look at it. */
export function placeInMatch(match: Match | undefined, field: MatchedField, value: bigint): bigint {
  const condition = match?.find((each) => each.field === field);
  return condition !== undefined && "within" in condition ? placeIn(condition.within, value) : 0n;
}

/** How many values of a set lie below one. */
function placeIn(set: Ranges, value: bigint): bigint {
  let place = 0n;
  for (const [low, high] of set) {
    if (value <= high) return place + (value > low ? value - low : 0n);
    place += high - low + 1n;
  }
  return place;
}

/** The value at a place in a set; undefined beyond its end. */
export function valueAt(set: Ranges, place: bigint): bigint | undefined {
  let left = place;
  for (const [low, high] of set) {
    const size = high - low + 1n;
    if (left < size) return low + left;
    left -= size;
  }
  return undefined;
}
