/**
 * How wide text is, without a browser: a careful guess by kinds of letters, taken from a wide typeface, so that what fits
 * here fits with the reader's own typeface, too. Text that is too wide is shortened.
 */
import { oneLine } from "../text.ts";

/** Share of the size that bold letters are wider. */
const BOLD = 1.12;
/** No line of the drawing holds more. */
const MOST_CHARACTERS = 400;
const ELLIPSIS = "\u2026";

/** Width of letters as a share of their size, the first kind that fits. */
const WIDTHS: readonly (readonly [kind: RegExp, width: number])[] = [
  [/\p{M}|\p{Cf}/u, 0],
  [/[ijl.,:;'|! ]/, 0.33],
  [/[frt()[\]/\\-]/, 0.41],
  [/[0-9]/, 0.64],
  [/[mwMW@%]/, 1],
  [/[a-z]/, 0.64],
  [/[A-Z]/, 0.78],
  [/[!-~]/, 0.84],
  [/[\u00a0-\u0fff]/, 0.85],
];
/** Ideographs and pictures. */
const WIDEST = 1.3;

/** Marks that stand on one letter: more of them would pile up over what is drawn above. */
const PILED_MARKS = /(\p{M}{3})\p{M}+/gu;

/** Text in one line, with every character shown that could move others. */
export function plainText(text: string): string {
  return oneLine(text).replace(PILED_MARKS, "$1");
}

/** Width in pixels, never less than what is drawn. */
export function textWidth(text: string, size: number, bold = false): number {
  let sum = 0;
  for (const character of text) sum += WIDTHS.find(([kind]) => kind.test(character))?.[1] ?? WIDEST;
  return sum * size * (bold ? BOLD : 1);
}

/** The same text in one line, cut where it would be wider; the cut is shown. */
export function shortened(text: string, width: number, size: number, bold = false): string {
  // Far more than any line holds; measuring the rest of a hostile name would only take time.
  const plain = plainText(text.slice(0, 2 * MOST_CHARACTERS));
  if (text.length <= MOST_CHARACTERS && textWidth(plain, size, bold) <= width) return plain;
  let kept = "";
  let left = width - textWidth(ELLIPSIS, size, bold);
  // What has no width of its own counts, too: any number of marks may stand on one letter.
  let count = 0;
  for (const character of plain) {
    left -= textWidth(character, size, bold);
    if (left < 0 || ++count > MOST_CHARACTERS) break;
    kept += character;
  }
  return `${kept}${ELLIPSIS}`;
}

/** Words in lines no wider than that, at most so many; the last one is cut. */
export function wrapped(text: string, width: number, size: number, most: number): readonly string[] {
  const lines: string[] = [];
  let line = "";
  for (const word of plainText(text.slice(0, 4000)).split(" ")) {
    const longer = line === "" ? word : `${line} ${word}`;
    if (line === "" || textWidth(longer, size) <= width) line = longer;
    else {
      lines.push(line);
      line = word;
    }
  }
  lines.push(line);
  const shown = lines.slice(0, most).map((each) => shortened(each, width, size));
  const last = shown.at(-1);
  if (lines.length > most && last !== undefined) shown[most - 1] = shortened(`${last} ${ELLIPSIS}`, width, size);
  return shown;
}

/** A rate as people write it: `1G`, `2.5G`, `100M`; nothing for 0. */
export function rateText(rateMbps: number): string {
  if (rateMbps === 0) return "";
  return rateMbps >= 1000 ? `${rateMbps / 1000}G` : `${rateMbps}M`;
}
