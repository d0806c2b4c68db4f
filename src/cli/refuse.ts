/**
 * What is asked cannot be done as it is asked: said on standard error, with what to do.
 */
import { toErrors } from "../outside/index.ts";
import { wrapLines } from "../report/index.ts";

/** Exit status of wrong input. */
export const WRONG_INPUT = 2;

/** Says why, in lines of 80 columns; answers with the exit status. */
export function refuse(text: string): number {
  toErrors(`${wrapLines(text)}\n`);
  return WRONG_INPUT;
}
