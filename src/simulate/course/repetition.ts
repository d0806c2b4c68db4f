/**
 * Tells when machines only repeat themselves: their states, but for the time, are what they were one whole period before, and
 * nothing happened in between. From then on they may be left alone, for as many whole periods as nothing else happens.
 */

/** Watches for repetition. */
export class Repetition {
  #mark: { readonly atMs: number; readonly signature: string } | undefined;
  #isStill = true;
  #foundAtMs: number | undefined;

  /** When it was found; undefined: not yet. */
  get foundAtMs(): number | undefined {
    return this.#foundAtMs;
  }

  /** Nothing happened since the latest mark. */
  get isStill(): boolean {
    return this.#isStill;
  }

  /** When to look again, after one period of so many milliseconds; undefined: nothing is watched. */
  lookMs(periodMs: number): number | undefined {
    return this.#mark === undefined ? undefined : this.#mark.atMs + periodMs;
  }

  /** Something happened. */
  disturb(): void {
    this.#isStill = false;
  }

  /** Watches from here on. */
  begin(atMs: number, signature: string): void {
    this.#isStill = true;
    this.#foundAtMs = undefined;
    this.#mark = { atMs, signature };
  }

  /** Watches no more. */
  end(): void {
    this.#foundAtMs = undefined;
    this.#mark = undefined;
  }

  /** Looks, if a period has passed. */
  look(nowMs: number, periodMs: number, signature: () => string): void {
    const mark = this.#mark;
    if (mark === undefined || nowMs < mark.atMs + periodMs) return;
    const now = signature();
    if (this.#isStill && now === mark.signature) this.#foundAtMs = nowMs;
    else this.begin(nowMs, now);
  }
}

/** The shortest time that is a whole number of each of these periods, in milliseconds. */
export function wholePeriodMs(periodsSeconds: readonly number[]): number {
  return periodsSeconds.reduce(leastCommonMultiple, 1) * 1000;
}

function leastCommonMultiple(a: number, b: number): number {
  let [one, other] = [a, b];
  while (other !== 0) [one, other] = [other, one % other];
  return (a / one) * b;
}
