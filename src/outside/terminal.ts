/**
 * The terminal: where text goes, and whether it may be coloured.
 */

/** True when standard output is a terminal and nobody asked for plain text (the `NO_COLOR` convention). */
export function mayColour(): boolean {
  const { NO_COLOR, TERM } = process.env;
  return process.stdout.isTTY === true && (NO_COLOR === undefined || NO_COLOR === "") && TERM !== "dumb";
}

/**
 * Lets a reader that has seen enough (`| head`) close the pipe in silence: what is left to write is nobody's loss, and the
 * exit status stays what it is. Anything else that keeps text from being written is thrown.
 */
export function forgiveClosedPipes(): void {
  const forgive = (error: NodeJS.ErrnoException): void => {
    if (error.code !== "EPIPE") throw error;
  };
  process.stdout.on("error", forgive);
  process.stderr.on("error", forgive);
}

/** Writes to standard output: results. */
export function toOutput(text: string): void {
  process.stdout.write(text);
}

/** Writes to standard error: diagnostics and progress. */
export function toErrors(text: string): void {
  process.stderr.write(text);
}
