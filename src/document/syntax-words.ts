/**
 * Faults of syntax in our words: the YAML library's frequent errors, by their codes, and by how it says what has no code of its own.
 */
import type { YAMLError } from "yaml";

/** Why a text is not well-formed; what is rare stands in the library's words. */
export function tellSyntax({ code, message }: YAMLError): string {
  const sign = SIGN.exec(message)?.[1];
  if (sign !== undefined) return `a text that begins with ${sign === "`" ? "a backtick" : `\`${sign}\``} needs quotes`;
  const [, told] = BY_MESSAGE.find(([pattern]) => pattern.test(message)) ?? [];
  return told ?? BY_CODE.get(code) ?? `${message.charAt(0).toLowerCase()}${message.slice(1)}`;
}

/** What to do about a fault at a place of a text, where that is to put quotes. */
export function helpSyntax(error: YAMLError, text: string, at: number): string | undefined {
  const last = text.slice(0, at).trimEnd().length;
  const [line = ""] = text.slice(text.lastIndexOf("\n", last - 1) + 1).split("\n", 1);
  if (isCutShort(line) && error.code === "BAD_INDENT") return HASH_HELP;
  if (WENT_ON.test(error.message)) return OTHER_QUOTES_HELP;
  return tellSyntax(error).includes("needs quotes") ? QUOTES_HELP : undefined;
}

/** What to do where a comment begins in the place of a value. */
export const HASH_HELP = "behind ` #` all is comment: put a text that holds one in quotes";
const OTHER_QUOTES_HELP = 'put the whole text in quotes of the kind that it does not hold, as in `"it\'s so"`';
const QUOTES_HELP = 'put the whole text in quotes, as in `"like this"`';

/** Whether a bracket is open where a comment begins, and the comment closes one. */
function isCutShort(line: string): boolean {
  const [before = "", ...behind] = line.split(/\s#/);
  const count = (pattern: RegExp): number => before.match(pattern)?.length ?? 0;
  return count(/[[{]/g) > count(/[\]}]/g) && /[\]}]/.test(behind.join(" "));
}

const WENT_ON = /^Unexpected (?:double-quoted-|single-quoted-)?scalar at node end/;
const SIGN = /^Plain value cannot start with .* (\S)$/;

const BY_CODE: ReadonlyMap<string, string> = new Map([
  ["BAD_INDENT", "the indent does not fit, or a bracket before it is not closed"],
  ["BLOCK_AS_IMPLICIT_KEY", "a second `: ` on one line; a text that holds one needs quotes"],
  ["BLOCK_IN_FLOW", "a second `: ` within brackets; a text that holds one needs quotes"],
  ["MULTILINE_IMPLICIT_KEY", "a key does not end on its line; perhaps its colon is missing"],
  ["TAB_AS_INDENT", "tabs are not allowed as indentation"],
]);

const BY_MESSAGE: readonly (readonly [RegExp, string])[] = [
  [/^Missing closing/, "a quote is not closed"],
  [
    /^Unexpected flow-(seq|map)-start at node end/,
    "a bracket in the middle of a text; a text that holds one needs quotes",
  ],
  [
    /^Missing , or : between flow/,
    "a comma or a colon is missing here; a text that holds a bracket or a quote needs quotes",
  ],
  [WENT_ON, "a text goes on behind a quote or a bracket that is closed"],
  [
    /^Unexpected block-seq-ind on same line/,
    "a list begins on a line of its own; a text that begins with `- ` needs quotes",
  ],
  [/^Not a YAML token/, "nothing may follow `>` or `|` on its line; a text that begins with one needs quotes"],
];
