/**
 * What no question of a run looked at: where a plan may be wrong and nobody would be told.
 */
import type { Origin } from "../diagnose/index.ts";

/** What a piece of a plan is. */
export type UnseenKind = "network" | "rule" | "translation" | "route" | "port";

/** One piece that nothing looked at. */
export type Unseen = {
  /** What it is. */
  readonly kind: UnseenKind;
  /** As people wrote it: a name, a prefix, `core:p13`. */
  readonly name: string;
  /** Where it belongs, a phrase: "in the `through` list of edge"; empty: nowhere in particular. */
  readonly where: string;
  /** Its line. */
  readonly origin: Origin;
};
