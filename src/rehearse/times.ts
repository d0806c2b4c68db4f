/**
 * For how long assertions were broken, out of what they came to over time.
 */
import type { Outage, Stretch, Verdict } from "../result/index.ts";
import { isBroken } from "./judge.ts";
import type { Since } from "./play.ts";

/** A stretch of time in which an assertion was broken, and how it first was. */
export type BrokenStretch = Stretch & {
  /** What it came to when it broke. */
  readonly verdict: Verdict;
};

/** Every time that an assertion was broken, in order; what broke and was mended at one and the same moment was not. */
export function brokenTimes(history: readonly Since[]): readonly BrokenStretch[] {
  const stretches: BrokenStretch[] = [];
  let open: { readonly fromMs: number; readonly verdict: Verdict } | undefined;
  for (const { fromMs, verdict } of history) {
    const isOpen = verdict !== undefined && isBroken(verdict);
    if (isOpen && open === undefined) open = { fromMs, verdict };
    if (isOpen || open === undefined) continue;
    if (fromMs > open.fromMs) stretches.push({ ...open, toMs: fromMs });
    open = undefined;
  }
  return open === undefined ? stretches : [...stretches, open];
}

/** The stretches that reach into a window of time, whole; what only touches its beginning is left out. */
export function within<Part extends Stretch>(
  stretches: readonly Part[],
  fromMs: number,
  untilMs: number,
): readonly Part[] {
  return stretches.filter((each) => each.fromMs <= untilMs && (each.toMs === undefined || each.toMs > fromMs));
}

/** How long a stretch is, of what lies in a window. */
export function lengthWithin({ fromMs, toMs }: Stretch, beginMs: number, endMs: number): number {
  return Math.max(0, Math.min(toMs ?? endMs, endMs) - Math.max(fromMs, beginMs));
}

/** The outages of all assertions, the earliest first. */
export function outagesOf(histories: ReadonlyMap<string, readonly Since[]>, endMs: number): readonly Outage[] {
  const outages = [...histories].flatMap(([id, history]): Outage[] => {
    const times = brokenTimes(history);
    const [first] = times;
    if (first === undefined) return [];
    const totalMs = times.reduce((sum, each) => sum + lengthWithin(each, 0, endMs), 0);
    const told = times.map(({ fromMs, toMs }) => ({ fromMs, ...(toMs === undefined ? {} : { toMs }) }));
    return [{ id, name: first.verdict.name, times: told, totalMs }];
  });
  return outages.sort((a, b) => (a.times[0]?.fromMs ?? 0) - (b.times[0]?.fromMs ?? 0));
}
