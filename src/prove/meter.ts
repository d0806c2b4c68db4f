/**
 * Counts steps of work: one for each piece that meets a rule, a route or a step of a stack. The same question takes the
 * same number of steps on every machine, so that a limit is part of the answer.
 */

/** A counter with a limit. */
export class Meter {
  /** Steps so far. */
  spent = 0;
  /** Steps that may be taken. */
  readonly limit: number;

  constructor(limit: number) {
    this.limit = limit;
  }

  /** Counts steps; false once more were taken than allowed. */
  take(steps = 1): boolean {
    this.spent += steps;
    return this.spent <= this.limit;
  }

  /** Whether more steps were taken than allowed: what was found since is not complete. */
  get exceeded(): boolean {
    return this.spent > this.limit;
  }
}

/** Comparisons with what is known already that count as a step of work. */
export const COMPARED = 64;

/** The same of packets that are so much alike that most comparisons come to their last fields. */
export const CLOSELY_COMPARED = 8;
