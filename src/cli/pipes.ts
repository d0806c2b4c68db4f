/**
 * Pipes that are closed at the far end. Here and not with the terminal, since `--help` needs it and nothing else of that.
 */

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
