/**
 * A value with the reason it has: the line that was written, or the default that filled it in. Everything of a
 * resolved site that a person can set is one of these, so that each answer can point at a line.
 */
import type { Origin, Span } from "../diagnose/index.ts";

/** A resolved value. */
export type Setting<T> = {
  /** What holds. */
  readonly value: T;
  /** Why. */
  readonly origin: Origin;
};

/** Further places on the way to a value, outermost first: the use of a role or of a set. */
export type Through = readonly Span[];

/** The origin of what stands in a document; `through` where it was reached by way of a role or set. */
export function writtenAt(span: Span, through: Through = []): Origin {
  return through.length === 0 ? { by: "written", span } : { by: "written", span, through };
}

/** The origin of what is missing from the list or mapping at `span`; `wanted` as a phrase. */
export function absentAt(span: Span, wanted: string, through: Through = []): Origin {
  return through.length === 0 ? { by: "absent", span, wanted } : { by: "absent", span, wanted, through };
}

/** The origin of a default, filled in for what stands at `span`. */
export function defaultAt(span: Span, rule: string, source: string): Origin {
  return { by: "default", span, rule, source };
}

/** A written value as a setting. */
export function settingOf<T>(located: { readonly value: T; readonly span: Span }, through: Through = []): Setting<T> {
  return { value: located.value, origin: writtenAt(located.span, through) };
}

/** What was written, or a default. */
export function settingOr<T>(
  located: { readonly value: T; readonly span: Span } | undefined,
  otherwise: T,
  origin: Origin,
): Setting<T> {
  return located === undefined ? { value: otherwise, origin } : settingOf(located);
}
