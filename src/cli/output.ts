/**
 * Where a command's reports go: one to standard output, others to files, several at once. Diagnostics go to standard
 * error, except where the report itself holds them.
 */
import { type Diagnostic, nearestWord, type SourceFile } from "../diagnose/index.ts";
import { mayColour, resolve, toErrors, toOutput, writeAllOver } from "../outside/index.ts";
import { INK, type Ink, NO_INK, renderDiagnostics } from "../report/index.ts";
import { WRONG_INPUT } from "./refuse.ts";

/** How reports are asked for. */
export type OutputOptions<Format extends string> = {
  /** One report each, in order. */
  readonly format: readonly Format[];
  /** Files for them, by position; a format without a file goes to standard output. */
  readonly output: readonly (string | undefined)[];
};

/** Why a combination of formats and files is refused; undefined: it is fine. */
export function outputProblem(
  { format, output }: OutputOptions<string>,
  formats: readonly string[],
): string | undefined {
  const unknown = format.find((word) => !formats.includes(word));
  if (unknown !== undefined)
    return withNearest(`no format \`${unknown}\`: formats are ${formats.join(", ")}`, unknown, formats);
  if (format.filter((_, index) => output[index] === undefined).length > 1)
    return "only one report can go to standard output: give the others a file with --output";
  if (output.length > format.length) return "more files than formats: say --format once for each --output";
  const files = output.filter((path) => path !== undefined);
  const places = files.map((path) => resolve(path));
  const twice = files.find((_, index) => places.indexOf(places[index] ?? "") < index);
  return twice === undefined ? undefined : `two reports cannot both be written to \`${twice}\``;
}

function withNearest(problem: string, word: string, formats: readonly string[]): string {
  const nearest = nearestWord(word, formats);
  return nearest === undefined ? problem : `${problem}\n   try \`--format ${nearest}\``;
}

/** What a command found, ready to be told. */
export type Told<Format extends string> = {
  /** What was found wrong in the documents. */
  readonly diagnostics: readonly Diagnostic[];
  /** Files read. */
  readonly sources: readonly SourceFile[];
  /** Exit status where every report can be written. */
  readonly status: number;
  /** One report. */
  readonly render: (format: Format, ink: Ink) => string | Promise<string>;
};

/** Writes diagnostics and reports, those to files first; answers with the exit status. */
export async function deliver<Format extends string>(
  told: Told<Format>,
  options: OutputOptions<Format>,
): Promise<number> {
  const { diagnostics, sources, status, render } = told;
  if (diagnostics.length > 0) toErrors(`${renderDiagnostics(diagnostics, sources, NO_INK)}\n`);
  const reports = await Promise.all(
    options.format.map(async (format, index) => {
      const path = options.output[index];
      return { path, content: await render(format, path === undefined && mayColour() ? INK : NO_INK) };
    }),
  );
  const problem = writeAllOver(reports.flatMap(({ path, content }) => (path === undefined ? [] : [{ path, content }])));
  if (problem !== undefined) toErrors(`${problem}\n`);
  for (const { path, content } of reports) if (path === undefined) toOutput(content);
  return problem === undefined || status === 3 ? status : WRONG_INPUT;
}
