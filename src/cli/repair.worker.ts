/**
 * A worker of `check --repair`: it holds the plan and all assertions, climbs ladders of edits and weighs what mends.
 */
import type { SourceFile } from "../diagnose/index.ts";
import type { AssertionsDocument } from "../document/index.ts";
import { poolData } from "../outside/index.ts";
import { demandedBy, type Helper, newHelper, planOf } from "../repair/index.ts";

/** What every worker gets: texts, and the numbers of those that are the plan. */
export type RepairData = {
  /** Files of the run. */
  readonly sources: readonly SourceFile[];
  /** Numbers of those that are the plan. */
  readonly files: readonly number[];
  /** Every file of the site's assertions. */
  readonly assertions: readonly { readonly path: string; readonly document: AssertionsDocument }[];
};

const helper = helperFor(poolData() as RepairData); // what `repair.ts` opens the pool with

/** Climbs the ladders of one task. */
export const climb: Helper["climb"] = helper.climb;
/** Works out what one edit turns. */
export const weigh: Helper["weigh"] = helper.weigh;

function helperFor({ sources, files, assertions }: RepairData): Helper {
  const plan = planOf(sources, files);
  if (plan === undefined) throw new Error("a plan that was judged does not load");
  return newHelper(plan, demandedBy(assertions));
}
