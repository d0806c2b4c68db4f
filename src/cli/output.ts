/**
 * Where a run's reports go: one to standard output, others to files, several at once. Diagnostics go to standard
 * error, except where the report itself holds them.
 */
import { mayColour, toErrors, toOutput, writeOver } from "../outside/index.ts";
import { INK, NO_INK, renderDiagnostics, renderJson, renderJunit, renderTerminal } from "../report/index.ts";
import { exitStatusOf, type Run } from "../result/index.ts";

/** Formats of a run's report. */
export const FORMATS = ["terminal", "json", "junit"] as const;
/** One of them. */
export type Format = (typeof FORMATS)[number];

/** How reports are asked for. */
export type OutputOptions = {
  /** One report each, in order. */
  readonly format: readonly Format[];
  /** Files for them, by position; a format without a file goes to standard output. */
  readonly output: readonly string[];
  /** Tell all of what holds, too. */
  readonly verbose: boolean;
};

/** Why a combination of formats and files is refused; undefined: it is fine. */
export function outputProblem({ format, output }: OutputOptions): string | undefined {
  const unknown = format.find((word) => !FORMATS.includes(word));
  if (unknown !== undefined) return `no format \`${unknown}\`: formats are ${FORMATS.join(", ")}`;
  if (format.length - output.length > 1)
    return "only one report can go to standard output: give the others a file with --output";
  return output.length > format.length ? "more files than formats: say --format once for each --output" : undefined;
}

/** Writes diagnostics and reports; answers with the exit status. */
export function deliver(run: Run, { format, output, verbose }: OutputOptions): number {
  const ink = mayColour() ? INK : NO_INK;
  if (run.diagnostics.length > 0) toErrors(`${renderDiagnostics(run.diagnostics, run.sources, NO_INK)}\n`);
  format.forEach((word, index) => {
    const path = output[index];
    const text =
      word === "json"
        ? renderJson(run)
        : word === "junit"
          ? renderJunit(run)
          : terminalText(run, path === undefined ? ink : NO_INK, verbose);
    if (path === undefined) toOutput(text);
    else writeOver(path, text);
  });
  return exitStatusOf(run);
}

function terminalText(run: Run, ink: typeof INK, verbose: boolean): string {
  const invalid = run.diagnostics.some((diagnostic) => diagnostic.severity === "error");
  return invalid && run.verdicts.length === 0 ? "" : renderTerminal(run, { ink, verbose });
}
