/**
 * Places and deciding lines in the JSON report, as types and as schemas.
 */
import * as z from "zod/mini";
import type { Place } from "../diagnose/index.ts";
import type { Status } from "../result/index.ts";

/** A place with why something stands there and what it did. */
export type PlacedEvidence = Place & {
  /** Whether it was written, is absent, is a default or was learned. */
  readonly by: string;
  /** A sentence fragment. */
  readonly text: string;
  /** Of a comparison: before or after the change. */
  readonly side?: "base" | "head";
  /** Of a comparison: the change touches the line. */
  readonly changed?: boolean;
};

/** A count. */
export const whole: z.ZodMiniType<number> = z.number().check(z.int(), z.nonnegative());
/** The keys of a place. */
export const place: { readonly [Key in keyof Place]: z.ZodMiniType<Place[Key]> } = {
  file: z.string(),
  line: whole,
  column: whole,
  endLine: whole,
  endColumn: whole,
};
/** How something ended. */
export const status: z.ZodMiniType<Status> = z.enum(["passed", "failed", "vacuous", "undecided", "skipped"]);
/** A deciding line. */
export const evidence: z.ZodMiniType<PlacedEvidence> = z.looseObject({
  ...place,
  by: z.string(),
  text: z.string(),
  side: z.exactOptional(z.enum(["base", "head"])),
  changed: z.exactOptional(z.boolean()),
});
