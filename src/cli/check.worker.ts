/**
 * A worker of `check`: it holds the sites as they were compiled, and answers about them.
 */
import { poolData } from "../outside/index.ts";
import { slicer } from "./slice.ts";
import type { JudgedSlice, Slice, SpreadData } from "./spread.ts";

const judge = slicer(poolData() as SpreadData); // what `judge.ts` opens the pool with

/** Judges one slice. */
export function judgeSlice(slice: Slice): JudgedSlice {
  return judge(slice);
}
