/**
 * The terminal: where text goes, and whether it may be coloured.
 */

/** True when standard output is a terminal and nobody asked for plain text (the `NO_COLOR` convention). */
export function mayColour(): boolean {
  const { NO_COLOR, TERM } = process.env;
  return process.stdout.isTTY === true && (NO_COLOR === undefined || NO_COLOR === "") && TERM !== "dumb";
}

/** Writes to standard output: results. */
export function toOutput(text: string): void {
  process.stdout.write(text);
}

/** Writes to standard error: diagnostics and progress. */
export function toErrors(text: string): void {
  process.stderr.write(text);
}
