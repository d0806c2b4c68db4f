/**
 * Lengths of time in a story: `90s`, `2m30s`, `1d6h`. Units go from large to small, each at most once.
 */
import { shorten } from "./node.ts";
import { leaf, type Problem, type Shape } from "./shape.ts";
import type { Located } from "./values.ts";

const TIME = /^(?=\d)(?:(\d+)d)?(?:(\d+)h)?(?:(\d+)m(?!s))?(?:(\d+)s)?(?:(\d+)ms)?$/;
const UNITS_MS = [86_400_000, 3_600_000, 60_000, 1000, 1];
/** A story of more than a year is a slip of the pen. */
const LONGEST_MS = 366 * 86_400_000;

/** A length of time, in milliseconds. */
export const timeLength: Shape<Located<number>> = leaf<number>({
  says: "a length of time such as `2m30s`",
  parse: parseTimeLength,
  schema: { type: "string", pattern: TIME.source },
});

/** Text as a length of time in milliseconds, at most a year; or what is wrong with it. */
export function parseTimeLength(text: string): number | Problem {
  const found = TIME.exec(text);
  const lengthMs = UNITS_MS.reduce((sum, unit, index) => sum + unit * Number(found?.[index + 1] ?? 0), 0);
  if (found !== null && lengthMs <= LONGEST_MS) return lengthMs;
  if (/^\d+$/.test(text)) {
    const help = Number(text) === 0 ? "write `0s`" : `write \`${text}s\` if seconds are meant`;
    return { refuse: "unit-missing", message: `\`${text}\` has no unit`, notes: NOTES, help };
  }
  const message =
    found === null
      ? `\`${shorten(text)}\` is not a length of time`
      : `\`${shorten(text)}\` is longer than a year, and a story is not`;
  return { refuse: "bad-duration", message, notes: NOTES, help: clockHelp(text) };
}

/** `1:30` is minutes and seconds to some, hours and minutes to others. */
function clockHelp(text: string): string | undefined {
  const [, whole, part] = /^(\d+):([0-5]\d)$/.exec(text) ?? [];
  if (whole === undefined || part === undefined) return undefined;
  return `write \`${whole}m${Number(part)}s\` or \`${whole}h${Number(part)}m\`, whichever is meant`;
}

const NOTES = ["the units of time are `d`, `h`, `m`, `s` and `ms`, from large to small, as in `2m30s`"];
