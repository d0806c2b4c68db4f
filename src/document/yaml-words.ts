/**
 * Texts as YAML values of one line, for what is written by us: as they are where every parser reads text of them, else in quotes.
 */

const PLAIN = /^[\p{L}\p{N}_][\p{L}\p{N}_./ -]*$/u;
const MISREAD = /^(?:null|true|false|yes|no|on|off|[0-9.e+_-]+)$/i;

/** A text as a value in one line, in quotes where YAML needs them. */
export function yamlText(text: string): string {
  const isPlain = PLAIN.test(text) && !text.endsWith(" ") && !MISREAD.test(text);
  return isPlain || /^[0-9./-]+$/.test(text) ? text : JSON.stringify(text);
}

/** Several as one value: a word alone, or a list. */
export function yamlList(texts: readonly string[]): string {
  const [only] = texts;
  return texts.length === 1 && only !== undefined ? yamlText(only) : `[${texts.map(yamlText).join(", ")}]`;
}
