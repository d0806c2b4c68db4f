/**
 * A worker of `check`: it holds the sites as they were compiled, and answers about them.
 */
import { poolData } from "../outside/index.ts";
import { slicer } from "./slice.ts";
import type { SpreadAnswer, SpreadData, SpreadTask } from "./spread.ts";

const judge = slicer(poolData() as SpreadData); // what `judge.ts` opens the pool with

/** Does one task. */
export function judgeSlice(task: SpreadTask): SpreadAnswer {
  return judge(task);
}
