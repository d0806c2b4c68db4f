/**
 * Moving through text for the everyday reader: blank space, comments, lines and their indents, single-line scalars.
 * Undefined always means: unusual, leave this file to the library.
 */
import type { Span } from "../diagnose/index.ts";
import type { TextNode } from "./node.ts";

/** The reader's place in a file. */
export type Cursor = {
  /** Index of the file. */
  readonly file: number;
  /** The whole text. */
  readonly text: string;
  /** Offset of the next character. */
  at: number;
  /** How many values were read. */
  values: number;
};

const SPACE = 32;
const LINE_FEED = 10;
const HASH = 35;
const COLON = 58;

/** A span from `start` up to, not including, `end`. */
export function spanOf({ file }: Cursor, start: number, end: number): Span {
  return { file, start, end };
}

/** Whether nothing or a blank stands at an offset. */
export function isBlank(text: string, at: number): boolean {
  const code = text.charCodeAt(at);
  return code === SPACE || code === LINE_FEED || at >= text.length;
}

/** Skips spaces of one line. */
export function skipSpaces(cursor: Cursor): void {
  while (cursor.text.charCodeAt(cursor.at) === SPACE) cursor.at++;
}

/** Skips the rest of a line that holds nothing more, or a comment with a blank before it. False: something else stands there. */
export function skipLine(cursor: Cursor): boolean {
  const { text, at } = cursor;
  skipSpaces(cursor);
  if (text.charCodeAt(cursor.at) === HASH && (cursor.at > at || isBlank(text, at - 1))) skipComment(cursor);
  if (cursor.at >= text.length) return true;
  if (text.charCodeAt(cursor.at) !== LINE_FEED) return false;
  cursor.at++;
  return true;
}

function skipComment(cursor: Cursor): void {
  const end = cursor.text.indexOf("\n", cursor.at);
  cursor.at = end < 0 ? cursor.text.length : end;
}

/** From the start of a line to the first line with content: its indent, or -1 at the end of the file. */
export function nextIndent(cursor: Cursor): number {
  const { text } = cursor;
  while (cursor.at < text.length) {
    const start = cursor.at;
    skipSpaces(cursor);
    const code = text.charCodeAt(cursor.at);
    if (code === HASH) skipComment(cursor);
    else if (cursor.at < text.length && code !== LINE_FEED) return cursor.at - start;
    cursor.at++;
  }
  return -1;
}

// What a plain scalar never begins with, and what may begin one but is rare enough to be left to the library.
const UNUSUAL_START = /[-?:,[\]{}#&*!|>'"%@`\s]/;

/** Whether a plain scalar of everyday kind may begin at an offset. */
function startsPlain(text: string, at: number): boolean {
  return at < text.length && !UNUSUAL_START.test(text.charAt(at));
}

/** The end of a plain scalar without its trailing blanks: it runs to `: `, ` #`, the end of the line or, in brackets, to an indicator. */
function plainEnd(text: string, from: number, inBrackets: boolean): number {
  let end = from;
  for (let at = from; at < text.length; at++) {
    const code = text.charCodeAt(at);
    if (code === LINE_FEED) break;
    if (code === SPACE) continue;
    if (code === HASH && text.charCodeAt(at - 1) === SPACE) break;
    if (code === COLON && endsKey(text, at, inBrackets)) break;
    if (inBrackets && isIndicator(code)) break;
    end = at + 1;
  }
  return end;
}

/** Whether a colon separates a key from its value. */
function endsKey(text: string, at: number, inBrackets: boolean): boolean {
  return isBlank(text, at + 1) || (inBrackets && isIndicator(text.charCodeAt(at + 1)));
}

/** `,`, `[`, `]`, `{` or `}`. */
function isIndicator(code: number): boolean {
  return code === 44 || code === 91 || code === 93 || code === 123 || code === 125;
}

/** A quoted scalar without escapes, on one line. */
function readQuoted(cursor: Cursor): TextNode | undefined {
  const { text, at } = cursor;
  const quote = text.charAt(at);
  const end = text.indexOf(quote, at + 1);
  const inside = text.slice(at + 1, end);
  if (end < 0 || inside.includes("\\") || inside.includes("\n") || text.charAt(end + 1) === quote) return undefined;
  cursor.at = end + 1;
  cursor.values++;
  return { kind: "text", text: inside, span: spanOf(cursor, at, end + 1), plain: false };
}

/** A plain scalar of everyday kind, in brackets or outside. */
function readPlain(cursor: Cursor, inBrackets: boolean): TextNode | undefined {
  const { text, at } = cursor;
  if (!startsPlain(text, at)) return undefined;
  const end = plainEnd(text, at, inBrackets);
  cursor.at = end;
  cursor.values++;
  return { kind: "text", text: text.slice(at, end), span: spanOf(cursor, at, end), plain: true };
}

/** A scalar, quoted or plain. */
export function readScalar(cursor: Cursor, inBrackets: boolean): TextNode | undefined {
  const first = cursor.text.charAt(cursor.at);
  return first === '"' || first === "'" ? readQuoted(cursor) : readPlain(cursor, inBrackets);
}

/** The colon behind a key, with the blank that must follow it. */
export function skipColon(cursor: Cursor): boolean {
  skipSpaces(cursor);
  if (cursor.text.charCodeAt(cursor.at) !== COLON || !isBlank(cursor.text, cursor.at + 1)) return false;
  cursor.at++;
  return true;
}
