/**
 * One line on a terminal about work that takes long: nothing in the first second, then at most ten times a second, and gone when
 * the work is done. It goes to standard error, and to a terminal only.
 */

/** Where a line goes, and what time it is; for tests. */
export type Screen = {
  /** Whether somebody watches. */
  readonly isTerminal: boolean;
  /** Writes there. */
  readonly write: (text: string) => void;
  /** Milliseconds of any clock. */
  readonly nowMs: () => number;
};

/** A line that is renewed as work goes on. */
export type Progress = {
  /** Something more was done; `tell` says how far it is, where that is to be shown. */
  readonly step: (tell: () => string) => void;
  /** The work is done: the line goes. */
  readonly end: () => void;
};

const PATIENCE_MS = 1000;
const RENEWED_MS = 100;
const CLEAR = "\r\u001b[K";

const ERRORS: Screen = {
  isTerminal: process.stderr.isTTY === true,
  write: (text) => process.stderr.write(text),
  nowMs: () => performance.now(),
};

/** Begins a line. */
export function progressOn({ isTerminal, write, nowMs }: Screen = ERRORS): Progress {
  let nextMs = nowMs() + PATIENCE_MS;
  let isShown = false;
  return {
    step: (tell) => {
      if (!isTerminal || nowMs() < nextMs) return;
      nextMs = nowMs() + RENEWED_MS;
      isShown = true;
      write(`${CLEAR}${tell()}`);
    },
    end: () => {
      if (isShown) write(CLEAR);
      isShown = false;
    },
  };
}
