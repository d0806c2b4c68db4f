/**
 * Where a run's reports go: one to standard output, others to files, several at once. Diagnostics go to standard
 * error, except where the report itself holds them.
 */
import { nearestWord } from "../diagnose/index.ts";
import { mayColour, toErrors, toOutput, writeAllOver } from "../outside/index.ts";
import {
  INK,
  NO_INK,
  renderDiagnostics,
  renderJson,
  renderJunit,
  renderTerminal,
  type TerminalOptions,
} from "../report/index.ts";
import { exitStatusOf, type Run } from "../result/index.ts";

/** Formats of a run's report. */
const FORMATS = ["terminal", "json", "junit"] as const;
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
  if (unknown !== undefined) return withNearest(`no format \`${unknown}\`: formats are ${FORMATS.join(", ")}`, unknown);
  if (format.length - output.length > 1)
    return "only one report can go to standard output: give the others a file with --output";
  if (output.length > format.length) return "more files than formats: say --format once for each --output";
  const twice = output.find((path, index) => output.indexOf(path) < index);
  return twice === undefined ? undefined : `two reports cannot both be written to \`${twice}\``;
}

function withNearest(problem: string, word: string): string {
  const nearest = nearestWord(word, FORMATS);
  return nearest === undefined ? problem : `${problem}\n   try \`--format ${nearest}\``;
}

/** Writes diagnostics and reports, those to files first; answers with the exit status. */
export function deliver(run: Run, options: OutputOptions): number {
  if (run.diagnostics.length > 0) toErrors(`${renderDiagnostics(run.diagnostics, run.sources, NO_INK)}\n`);
  const reports = options.format.map((format, index) => {
    const path = options.output[index];
    const ink = path === undefined && mayColour() ? INK : NO_INK;
    return { path, content: render(run, format, { ink, verbose: options.verbose }) };
  });
  const problem = writeAllOver(reports.flatMap(({ path, content }) => (path === undefined ? [] : [{ path, content }])));
  if (problem !== undefined) toErrors(`${problem}\n`);
  for (const { path, content } of reports) if (path === undefined) toOutput(content);
  const status = exitStatusOf(run);
  return problem === undefined || status === 3 ? status : 2;
}

function render(run: Run, format: Format, options: TerminalOptions): string {
  switch (format) {
    case "json":
      return renderJson(run);
    case "junit":
      return renderJunit(run);
    case "terminal": {
      const isUnasked = run.verdicts.length === 0 && run.fault === undefined;
      return isUnasked ? "" : renderTerminal(run, options);
    }
  }
}
