/**
 * What no question of a run looked at: where a plan may be wrong and nobody would be told.
 */
import type { Origin } from "../diagnose/index.ts";

/** What a piece of a plan is. */
export type UnseenKind = "network" | "way" | "rule" | "translation" | "route" | "port";

/** One piece that nothing looked at. */
export type Unseen = {
  /** What it is. */
  readonly kind: UnseenKind;
  /** As people wrote it: a name, a prefix, `core:p13`; of ways the network that they begin in. */
  readonly name: string;
  /** Where it belongs, a phrase: "in the `through` list of edge", "to crew and internet"; empty: nowhere in particular. */
  readonly where: string;
  /** Its line. */
  readonly origin: Origin;
};
