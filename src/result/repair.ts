/**
 * Repairs: single edits of a plan that make a failed assertion hold, as plain records. Each was tried: the assertion holds
 * on the edited plan, and none that held before fails there.
 */
import type { Span } from "../diagnose/index.ts";

/** What an edit changes; `service`: where one listens, or who is asked for names; `cable`: which hosts two of them lead to. */
export type RepairKind = "tag" | "rule" | "order" | "route" | "relay" | "leg" | "service" | "cable";

/** Neighbouring lines that an edit changes; one of the two lists may be empty. */
export type ChangedLines = {
  /** The first of them in the file as it is, 1-based; of lines that are only put in, the one that they push down. */
  readonly line: number;
  /** As they are. */
  readonly before: readonly string[];
  /** As they would be. */
  readonly after: readonly string[];
};

/** One edit. */
export type Repair = {
  /** What it changes. */
  readonly kind: RepairKind;
  /** What to do, in a sentence. */
  readonly text: string;
  /** Path of the file, as reports show it. */
  readonly file: string;
  /** Where it begins, in the file as it is. */
  readonly at: Span;
  /** The lines, from the top of the file to its end. */
  readonly changes: readonly ChangedLines[];
  /** Names of other assertions that did not hold and do after it. */
  readonly mends: readonly string[];
  /** What gets through after it and not before, in sentences; of a long list the first ones. */
  readonly allows: readonly string[];
  /** What got through before it and no longer does. */
  readonly forbids: readonly string[];
};

/** Edits that make an assertion hold, and another one end worse. */
export type Refused = {
  /** How many. */
  readonly edits: number;
  /** Name of an assertion that ends worse after the first of them. */
  readonly costs: string;
};

/** What was found for one assertion. */
export type Mending = {
  /** Id of its verdict. */
  readonly id: string;
  /** At most three, the best first; where none was found for it, those that were found for others and mend it, too. */
  readonly repairs: readonly Repair[];
  /** How many edits were tried on the plan. */
  readonly tried: number;
  /** Those among them that are no repairs for the sake of others; absent: none. */
  readonly refused?: Refused;
  /** Why not all of them were tried; absent: all were. */
  readonly limit?: string;
};
