/**
 * Plain text for a terminal: control characters made visible, lines broken at 80 columns, ink.
 * Nothing that stands in a document can move the cursor, change a colour or turn text round.
 */

/** Columns of a report. */
export const COLUMNS = 80;

// Control characters (C0, DEL, C1) but line feeds, line separators, and the characters that turn text round.
const UNSAFE = /(?!\n)[\p{Cc}\p{Bidi_Control}\u2028\u2029]/gu;

/** Text with every control character shown as `\u{1b}`; tabs become two spaces, line ends stay. */
export function visible(text: string): string {
  return text
    .replaceAll("\t", "  ")
    .replace(UNSAFE, (character) => `\\u{${(character.codePointAt(0) ?? 0).toString(16)}}`);
}

/** Text in one line. */
export function oneLine(text: string): string {
  return visible(text.replace(/\s*\n\s*/g, " "));
}

/** Words broken into lines; later lines are indented by `hang` spaces. Words longer than a line stay whole. */
export function wrap(text: string, indent: number, hang: number = indent): string {
  const lines: string[] = [];
  let line = " ".repeat(indent);
  let empty = true;
  for (const word of oneLine(text).split(" ")) {
    if (!empty && line.length + 1 + word.length > COLUMNS) {
      lines.push(line);
      line = " ".repeat(hang);
      empty = true;
    }
    line += empty ? word : ` ${word}`;
    empty = false;
  }
  return [...lines, line].join("\n");
}

/** Each line broken into lines: what goes on is indented by three spaces, what is indented already stays so. */
export function wrapLines(text: string): string {
  const broken = text.split("\n").map((line) => {
    const indent = line.length - line.trimStart().length;
    return wrap(line.slice(indent), indent, Math.max(indent, 3));
  });
  return broken.join("\n");
}

/** A mark in a column of its own, then words beside it. */
export function marked(mark: string, width: number, text: string, ink: (text: string) => string): string {
  return `${ink(mark.padEnd(width))}${wrap(text, width).slice(width)}`;
}

/** How words are set off: by colour on a terminal, not at all elsewhere. Colour never says what the words do not. */
export type Ink = {
  /** Headlines. */
  readonly strong: (text: string) => string;
  /** What matters least. */
  readonly faint: (text: string) => string;
  /** What holds. */
  readonly good: (text: string) => string;
  /** What does not. */
  readonly bad: (text: string) => string;
  /** What nobody can tell. */
  readonly open: (text: string) => string;
};

const plain = (text: string): string => text;
const inked = (code: string) => (text: string) => `\u001b[${code}m${text}\u001b[0m`;

/** No ink at all. */
export const NO_INK: Ink = { strong: plain, faint: plain, good: plain, bad: plain, open: plain };

/** Green and vermilion of the palette of Okabe and Ito, as 24-bit colours; bold and dim for the rest. */
export const INK: Ink = {
  strong: inked("1"),
  faint: inked("2"),
  good: inked("38;2;0;158;115"),
  bad: inked("38;2;213;94;0"),
  open: inked("38;2;0;114;178"),
};
