/** A stream of random choices from a seed: the same seed gives the same choices on every machine. */

/** Dice with a memory. */
export class Dice {
  #state: number;

  constructor(seed: number) {
    this.#state = seed * 2_654_435_761;
  }

  /** A number from 0 to below `count`. */
  below(count: number): number {
    return Math.floor(this.#next() * count);
  }

  /** True in this share of all cases. */
  chance(share: number): boolean {
    return this.#next() < share;
  }

  /** One of these. */
  pick<T>(items: readonly T[]): T {
    const item = items[this.below(items.length)];
    if (item === undefined) throw new Error("nothing to pick from");
    return item;
  }

  /** Each of these with this chance. */
  some<T>(items: readonly T[], share: number): readonly T[] {
    return items.filter(() => this.chance(share));
  }

  // 32-bit steps of a Weyl sequence, each scrambled by two rounds of xor, shift and multiply (common practice).
  #next(): number {
    this.#state = (this.#state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(this.#state ^ (this.#state >>> 15), 1 | this.#state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  }
}
