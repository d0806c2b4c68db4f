/** How something ends: a table of shares, so that a generator that never makes a server run out of addresses is found. */

/** Counts of ends. */
export class Ends {
  readonly #word: string;
  readonly #expected: readonly string[];
  readonly #counts = new Map<string, number>();
  #all = 0;

  /** `word`: what ends; `expected`: ends that must come about. */
  constructor(word: string, expected: readonly string[]) {
    this.#word = word;
    this.#expected = expected;
  }

  /** Counts one. */
  note(ends: readonly string[]): void {
    this.#all++;
    for (const end of new Set(ends)) this.#counts.set(end, (this.#counts.get(end) ?? 0) + 1);
  }

  /** One end a line, by its share; those that nothing brought about are listed with 0. None where nothing ended. */
  lines(): readonly string[] {
    if (this.#all === 0) return [];
    return [...new Set([...this.#expected, ...this.#counts.keys()])].toSorted().map((end) => {
      const share = (100 * (this.#counts.get(end) ?? 0)) / this.#all;
      return `${share.toFixed(1).padStart(6)} %${share < 1 ? " <" : "  "} ${this.#word} ${end}`;
    });
  }
}
