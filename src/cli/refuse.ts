/**
 * What is asked cannot be done as it is asked: said on standard error, with what to do.
 */
import type { Diagnostic } from "../diagnose/index.ts";
import { toErrors } from "../outside/index.ts";
import { wrapLines } from "../report/index.ts";

/** Exit status of wrong input. */
export const WRONG_INPUT = 2;

/** Says why, in lines of 80 columns; answers with the exit status. */
export function refuse(text: string): number {
  toErrors(`${wrapLines(text)}\n`);
  return WRONG_INPUT;
}

/** A diagnostic about a word of the command line, which stands in no file: its lines, without a place. */
export function inWords({ message, notes, help }: Diagnostic): string {
  return [message, ...notes, ...(help === undefined ? [] : [help])].join("\n   ");
}
