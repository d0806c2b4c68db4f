/**
 * A run: what one command found. The exit status is a function of it alone.
 */
import { type Diagnostic, hasErrors, type SourceFile } from "../diagnose/index.ts";
import type { Mending } from "./repair.ts";
import type { Shard } from "./shard.ts";
import type { SiteFacts } from "./site-facts.ts";
import type { Status, Verdict } from "./verdict.ts";

/** How many verdicts ended how. */
export type Counts = { readonly [status in Status]: number };

/** The outcome of a run in a word. */
export type RunStatus = "passed" | "failed" | "undecided" | "invalid" | "fault";

/** One command's findings. */
export type Run = {
  /** The command. */
  readonly command: string;
  /** Version of dryrack. */
  readonly version: string;
  /** Files read, in order: `Span.file` indexes this list. */
  readonly sources: readonly SourceFile[];
  /** What was found wrong in the documents. */
  readonly diagnostics: readonly Diagnostic[];
  /** One an assertion, in order. */
  readonly verdicts: readonly Verdict[];
  /** Sentences, each once, in order of first use. */
  readonly assumptions: readonly string[];
  /** Repairs of what does not hold, where they were asked for; absent: they were not. */
  readonly mendings?: readonly Mending[];
  /** More of each site, where a report asks for it; absent: none does. */
  readonly sites?: readonly SiteFacts[];
  /** Which part of a run this is; absent: the whole. */
  readonly shard?: Shard;
  /** Set when the tool itself is at fault: what disagreed, with numbers. */
  readonly fault?: string;
};

/** A run of `check` that has loaded its documents and judged nothing yet. */
export function blankCheck({ version, sources, diagnostics }: Pick<Run, "version" | "sources" | "diagnostics">): Run {
  return { command: "check", version, sources, diagnostics, verdicts: [], assumptions: [] };
}

/** Counts the verdicts of a run. */
export function countVerdicts(verdicts: readonly Verdict[]): Counts {
  const counts = { passed: 0, failed: 0, vacuous: 0, undecided: 0, skipped: 0 };
  for (const verdict of verdicts) counts[verdict.status] += 1;
  return counts;
}

/** A run in one word: a fault outranks wrong input, that a failure, that an open question. */
export function statusOf(run: Run): RunStatus {
  if (run.fault !== undefined) return "fault";
  if (hasErrors(run.diagnostics)) return "invalid";
  const counts = countVerdicts(run.verdicts);
  if (run.verdicts.length > 0 && counts.skipped === run.verdicts.length) return "invalid";
  if (counts.failed + counts.vacuous > 0) return "failed";
  return counts.undecided > 0 ? "undecided" : "passed";
}

/** Exit status: 0 all hold, 1 failed or vacuous, 2 wrong input, 3 our fault, 4 undecided. */
export function exitStatusOf(run: Run): 0 | 1 | 2 | 3 | 4 {
  const status = statusOf(run);
  return status === "passed" ? 0 : status === "failed" ? 1 : status === "invalid" ? 2 : status === "fault" ? 3 : 4;
}
