/**
 * What a run says that an earlier one did not: for whoever reads one after the other. That a line moved is no news.
 */
import type { Told, Verdict } from "./verdict.ts";

/** What is new in the verdicts of a run. */
export type VerdictChanges = {
  /** Verdicts that are new, or end otherwise, or say something else than before; in order. */
  readonly changed: readonly Verdict[];
  /** Names of assertions that are not there any more. */
  readonly gone: readonly string[];
};

/** What is new. */
export function changesOf(before: readonly Verdict[], after: readonly Verdict[]): VerdictChanges {
  const known = new Map(before.map((verdict) => [verdict.id, said(verdict)]));
  const ids = new Set(after.map(({ id }) => id));
  return {
    changed: after.filter((verdict) => known.get(verdict.id) !== said(verdict)),
    gone: before.filter(({ id, status }) => !ids.has(id) && status !== "skipped").map(({ name }) => name),
  };
}

/** All that a person reads of a verdict, but where it stands; of what holds nobody reads more than that. */
function said({ status, headline, help, decidedBy, witness, path, limit, breaks, cells }: Verdict): string {
  if (status === "passed" || status === "skipped") return status;
  const lines = decidedBy.map(({ text }) => text);
  return JSON.stringify([status, headline, help, lines, witness, path.map(stepOf), limit, breaks, cells]);
}

function stepOf({ device, text }: Told): string {
  return `${device} ${text}`;
}
