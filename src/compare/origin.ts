/** Where conditions come from that a comparison makes up. */
import type { Origin } from "../diagnose/index.ts";

/** Nowhere in a document. */
export const COMPARED: Origin = {
  by: "default",
  rule: "a comparison",
  source: "dryrack",
  span: { file: 0, start: 0, end: 0 },
};
