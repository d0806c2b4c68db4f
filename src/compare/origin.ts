/** Where conditions come from that a comparison makes up. */
import type { Origin } from "../diagnose/index.ts";
import type { Alternatives } from "../network/index.ts";
import { type Box, matchOf } from "../prove/index.ts";

/** Nowhere in a document. */
export const COMPARED: Origin = {
  by: "default",
  rule: "a comparison",
  source: "dryrack",
  span: { file: 0, start: 0, end: 0 },
};

/** Packets of boxes as conditions. */
export function matchesOf(boxes: readonly Box[]): Alternatives {
  return boxes.map(({ numbers }) => matchOf(numbers, COMPARED));
}
