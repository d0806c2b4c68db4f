/**
 * The files of assertions that were judged, as one run.
 */
import { hasErrors } from "../diagnose/index.ts";
import type { Run } from "../result/index.ts";
import type { CheckResult } from "./recollection.ts";

/** A run that has loaded its documents, with what their assertions came to; of wrong names nothing but these is told. */
export function runOf(results: readonly CheckResult[], loaded: Run): Run {
  const diagnostics = [...loaded.diagnostics, ...results.flatMap((each) => each.diagnostics)];
  if (hasErrors(diagnostics)) return { ...loaded, diagnostics };
  const verdicts = results.flatMap((each) => each.verdicts);
  const assumptions = [...new Set(verdicts.flatMap((verdict) => verdict.assumptions))];
  return { ...loaded, diagnostics, verdicts, assumptions };
}
