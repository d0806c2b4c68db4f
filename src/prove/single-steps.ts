/**
 * Single steps over boxes, as plain values: for the test that holds the two engines together step by step. All pieces
 * are given, disjoint, and together they are the box that was asked about.
 */
import type { Origin } from "../diagnose/index.ts";
import type { FilterAction, FilterTable, Id, Route } from "../network/index.ts";
import { type Box, boxOf } from "./box.ts";
import { DESTINATION } from "./fields.ts";
import { flowOf, narrowed, valuesOf } from "./flow.ts";
import { Meter } from "./meter.ts";
import { stretchesOf } from "./routes.ts";
import { RuleList } from "./rules.ts";
import { cutBy } from "./stretches.ts";

/** Packets that one line of a filter decides. */
export type FilterPiece = {
  /** The packets. */
  readonly box: Box;
  /** What becomes of them. */
  readonly action: FilterAction;
  /** The rule, or the table's otherwise. */
  readonly origin: Origin;
  /** Id of the rule; absent: no rule fits. */
  readonly rule?: Id;
};

/** Cuts a box by the first rule that fits. */
export function splitFilter(table: FilterTable, box: Box): readonly FilterPiece[] {
  const { decided, left } = new RuleList(table.rules).split(flowOf(box.numbers, box.names), new Meter(Infinity));
  return [
    ...decided.map(({ rule, flow }) => ({ box: boxOf(flow), action: rule.action, origin: rule.origin, rule: rule.id })),
    ...left.map((flow) => ({ box: boxOf(flow), ...table.otherwise })),
  ];
}

/** Packets that one route decides. */
export type RoutePiece = {
  /** The packets. */
  readonly box: Box;
  /** Absent: no route. */
  readonly route?: Route;
};

/** Cuts a box by the best route to its destinations. */
export function splitRoutes(routes: readonly Route[], box: Box): readonly RoutePiece[] {
  const flow = flowOf(box.numbers, box.names);
  return cutBy(stretchesOf(routes), valuesOf(flow, DESTINATION)).flatMap(({ value, numbers }) => {
    const piece = narrowed(flow, DESTINATION, numbers);
    if (piece === undefined) return [];
    return [{ box: boxOf(piece), ...(value === undefined ? {} : { route: value }) }];
  });
}
