/**
 * Machines in time, for tests: each is told its events, frames take a millisecond, and a machine is woken when it asked
 * to be. Ties go by the order of asking.
 */

/** One machine with its state, as the loop sees it. */
export type Station<Event, Action> = {
  /** The machine after an event; what it wants done. */
  readonly step: (event: Event, nowMs: number) => readonly Action[];
  /** When it wants a timer event. */
  readonly wakeMs: () => number | undefined;
};

/** Runs stations until a moment; `carry` tells where an action leads. */
export function runUntil<Event, Action>(
  stations: ReadonlyMap<string, Station<Event, Action>>,
  timer: Event,
  begin: readonly (readonly [station: string, event: Event])[],
  carry: (station: string, action: Action, nowMs: number) => readonly (readonly [station: string, event: Event])[],
  endMs: number,
): void {
  let frames = begin.map(([station, event]) => ({ atMs: 0, station, event }));
  for (;;) {
    const wakes = [...stations].map(([station, { wakeMs }]) => ({ atMs: wakeMs() ?? Infinity, station, event: timer }));
    const next = [...frames, ...wakes].reduce((best, one) => (one.atMs < best.atMs ? one : best));
    if (next.atMs > endMs) return;
    frames = frames.filter((frame) => frame !== next);
    const actions = stations.get(next.station)?.step(next.event, next.atMs) ?? [];
    for (const action of actions) {
      for (const [station, event] of carry(next.station, action, next.atMs))
        frames.push({ atMs: next.atMs + 1, station, event });
    }
  }
}
