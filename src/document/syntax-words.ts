/**
 * Faults of syntax in our words: the YAML library's frequent errors, by their codes, and by how it says what has no code of its own.
 */
import type { YAMLError } from "yaml";

/** Why a text is not well-formed; what is rare stands in the library's words. */
export function tellSyntax({ code, message }: YAMLError): string {
  const [, told] = BY_MESSAGE.find(([pattern]) => pattern.test(message)) ?? [];
  return told ?? BY_CODE.get(code) ?? `${message.charAt(0).toLowerCase()}${message.slice(1)}`;
}

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
];
