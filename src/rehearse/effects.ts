/**
 * What came of the steps that are behind something broken: what changed in what devices know, and would not have changed without them.
 */
import type { Knowledge, Moment } from "../result/index.ts";

/** What changed at one time. */
export type Effects = {
  /** When. */
  readonly atMs: number;
  /** What. */
  readonly changes: readonly Knowledge[];
};

/** What a story tells, and what is told without the steps in question. */
export type Told = {
  /** Its moments, up to the one at which something broke. */
  readonly moments: readonly Moment[];
  /** Those without the steps; of what no step is behind, without any step. */
  readonly without: readonly Moment[];
};

/** What the steps changed, or what changed without any of them, moment by moment. */
export function effectsIn({ moments, without }: Told, of: "steps" | "no-step"): readonly Effects[] {
  const others = new Set(without.flatMap(({ atMs, changes }) => changes.map((change) => keyOf(atMs, change))));
  return moments.flatMap(({ atMs, changes }): Effects[] => {
    // A lease that was renewed broke nothing.
    const own = changes.filter(
      (change) => change.isSame !== true && others.has(keyOf(atMs, change)) === (of === "no-step"),
    );
    return own.length === 0 ? [] : [{ atMs, changes: own }];
  });
}

function keyOf(atMs: number, { part, what, text }: Knowledge): string {
  return `${atMs} ${part} ${what} ${text}`;
}
