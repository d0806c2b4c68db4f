/**
 * The shape that every machine here shares: a pure function from state, event and time to the next state and to
 * actions. Time is a number of milliseconds on any one clock; a machine never reads a clock, it names the moment it
 * wants to be woken at and is then sent a `timer` event.
 */

/** What a machine becomes and what it wants done, in this order. */
export type Transition<State, Action> = {
  /** The next state. */
  readonly state: State;
  /** To be carried out in order. */
  readonly actions: readonly Action[];
};

/** The earliest of several moments; absent ones never come. Undefined when none will. */
export function earliest(...momentsMs: readonly (number | undefined)[]): number | undefined {
  let best: number | undefined;
  for (const moment of momentsMs) if (moment !== undefined && (best === undefined || moment < best)) best = moment;
  return best;
}
