/**
 * Verdicts from before an edit: one is taken over where nothing changed that it looked at, its places carried to where they
 * stand now.
 */
import { carried, type Diagnostic, isAlike } from "../diagnose/index.ts";
import type { Assertion, AssertionsDocument } from "../document/index.ts";
import { type Changes, Footprint } from "../evaluate/index.ts";
import type { Verdict } from "../result/index.ts";

/** A file of assertions as it was judged before. */
export type Earlier = {
  /** Its assertions then. */
  readonly document: AssertionsDocument;
  /** What they came to. */
  readonly result: CheckResult;
  /** What the edit changed. */
  readonly changes: Changes;
};

/** Verdicts in document order, or what is wrong with the file. */
export type CheckResult = {
  /** One an assertion, in document order; empty when a diagnostic is an error. */
  readonly verdicts: readonly Verdict[];
  /** Names that nothing in the network carries. */
  readonly diagnostics: readonly Diagnostic[];
  /** What each verdict rests on, in the order of `verdicts`. */
  readonly footprints: readonly Footprint[];
  /** How many verdicts were taken over from before. */
  readonly reused: number;
};

/** A verdict with what it rests on. */
export type Judged = readonly [Verdict, Footprint];

/** Rests on more than can be told. */
export const UNTOLD: Footprint = new Footprint();
UNTOLD.everything = true;

/** What is known from before. */
export class Recollection {
  /** How many verdicts were taken over. */
  reused = 0;
  readonly #earlier: Earlier | undefined;
  /** By name: where each assertion stood. */
  readonly #places: ReadonlyMap<string, number>;

  constructor(earlier: Earlier | undefined) {
    this.#earlier = earlier;
    const assertions = earlier?.document.assertions ?? [];
    this.#places = new Map(assertions.map(({ name }, index) => [name.value, index]));
  }

  /** The verdict on an assertion, as it would be found again; undefined: it must be asked. */
  of(assertion: Assertion): Judged | undefined {
    const earlier = this.#earlier;
    const index = this.#places.get(assertion.name.value);
    if (earlier === undefined || index === undefined) return undefined;
    const { document, result, changes } = earlier;
    const [verdict, footprint] = [result.verdicts[index], result.footprints[index]];
    if (verdict === undefined || footprint === undefined || changes.meet(footprint)) return undefined;
    if (!isAlike(document.assertions[index], assertion, changes.moves)) return undefined;
    const now = carried(verdict, changes.moves);
    if (now === undefined) return undefined;
    this.reused++;
    return [now, footprint];
  }
}
