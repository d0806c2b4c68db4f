/**
 * A drawing on paper: A4 (ISO 216), upright or across, whichever takes fewer sheets on which the smallest letters stay legible.
 * Where one sheet does not hold it all it is cut where nothing is cut through but lines, and each sheet says which one it is.
 */
import type { PictureLayout, Placed } from "./layout.ts";
import { type Box, SMALL_SIZE, TERMINAL_PITCH } from "./measures.ts";

/** How a drawing lies on paper. */
export type Paper = {
  /** Across: the longer edge is at the foot. */
  readonly across: boolean;
  /** What each sheet shows of the drawing, row by row; one box where it all fits. */
  readonly sheets: readonly Box[];
  /** Millimetres of one pixel of the drawing. */
  readonly scale: number;
  /** What a sheet holds beside its margins and what is kept free, in millimetres. */
  readonly page: { readonly width: number; readonly height: number };
};

/** What is drawn, with all that stands below it. */
export type Drawn = {
  /** In pixels. */
  readonly width: number;
  /** In pixels. */
  readonly height: number;
  /** What stands below the blocks and is not to be cut through, each as first and last pixel from the top. */
  readonly below: readonly Interval[];
  /** Millimetres that are kept free on each sheet for a heading above it. Default: none. */
  readonly headed?: number;
};

/** First and last pixel along one edge. */
export type Interval = readonly [from: number, to: number];

/** Margin of a sheet, in millimetres. */
export const PAPER_MARGIN = 10;
/** Room for the headings of a page, so that none stays behind alone on the sheet before: two of them, in millimetres. */
export const HEADED = 28;
const [SHORT, LONG] = [210 - 2 * PAPER_MARGIN, 297 - 2 * PAPER_MARGIN];
/** Millimetres of a pixel where a drawing is as large as on a screen. */
const LARGEST = 25.4 / 96;
/** Millimetres of a pixel where the smallest letters are so many points high. */
const lettersOf = (points: number): number => (points * 25.4) / 72 / SMALL_SIZE;
/** Six points are read with ease (common practice); five, too, by those who would rather hold one sheet than two. */
const LEAST = lettersOf(6);
const LEAST_WHOLE = lettersOf(5);
/**
 * Room at the head of a sheet for its number, in pixels of the drawing, and where that stands. Browsers round the height of a page by
 * a fraction of a pixel, which adds up from sheet to sheet: so much is left free above the number, and at the foot.
 */
export const SHEET_HEAD = 28;
/** See there. */
export const LABEL_AT = 22;
const SHEET_FOOT = 10;

/** How it lies best. */
export function paperOf(layout: PictureLayout, drawn: Drawn): Paper {
  const upright = laidOn(layout, drawn, false);
  const across = laidOn(layout, drawn, true);
  return across.sheets.length < upright.sheets.length ? across : upright;
}

function laidOn(layout: PictureLayout, { width, height, below, headed = 0 }: Drawn, across: boolean): Paper {
  const page = across ? { width: LONG, height: SHORT - headed } : { width: SHORT, height: LONG - headed };
  const whole = Math.min(LARGEST, page.width / width, page.height / height);
  if (whole >= LEAST_WHOLE) return { across, page, scale: whole, sheets: [{ x: 0, y: 0, width, height }] };
  const scale = Math.max(LEAST, page.width / width);
  const columns = cut(width, page.width / scale, [acrossBlocks(layout)]);
  const rows = cut(height, page.height / scale - SHEET_HEAD - SHEET_FOOT, [
    [...layout.blocks.map(upAndDown), ...below],
    [...layout.blocks.flatMap(linesOf), ...below],
  ]);
  const sheets = rows.flatMap(([y, lower]) =>
    columns.map(([x, right]) => ({ x, y, width: right - x, height: lower - y })),
  );
  return { across, page, scale, sheets };
}

/** A cut is put off by no more than this share of a sheet to spare what is to be kept whole. */
const MOST_SPARED = 0.4;

/**
 * Pieces of a length, none longer than `longest`, none ending within an interval of the first list; where that would leave much of a
 * sheet empty, of the second.
 */
function cut(length: number, longest: number, kept: readonly (readonly Interval[])[]): readonly Interval[] {
  const pieces: Interval[] = [];
  for (let from = 0; from < length; ) {
    const limit = from + longest;
    const to = limit >= length ? length : bestCut(from, limit, kept);
    pieces.push([from, to]);
    from = to;
  }
  return pieces;
}

function bestCut(from: number, limit: number, kept: readonly (readonly Interval[])[]): number {
  for (const intervals of kept) {
    const at = freeBefore(limit, intervals);
    if (at >= limit - (limit - from) * MOST_SPARED) return at;
  }
  return Math.floor(limit);
}

/** The last place up to a limit that lies in no interval. */
function freeBefore(limit: number, intervals: readonly Interval[]): number {
  let at = Math.floor(limit);
  for (let meets = true; meets; ) {
    const met = intervals.filter(([from, to]) => from < at && at < to);
    meets = met.length > 0;
    if (meets) at = Math.floor(Math.min(...met.map(([from]) => from)));
  }
  return at;
}

/** The label of a wire stands above its end, before the block. */
const LABEL_WIDTH = 70;
/** What stands out of a block above it: labels of wires. */
const ABOVE = 4;

function acrossBlocks({ blocks }: PictureLayout): readonly Interval[] {
  return blocks.map(({ x, block }) => [x - LABEL_WIDTH, x + block.width + 2]);
}

function upAndDown({ y, block }: Placed): Interval {
  return [y - ABOVE, y + block.height + 2];
}

/** Blocks that are no higher than this are never cut through. */
const SMALL_BLOCK = 120;

/** Of a tall block its letters and sockets. */
function linesOf(placed: Placed): readonly Interval[] {
  const { y, block } = placed;
  if (block.height <= SMALL_BLOCK) return [upAndDown(placed)];
  return [
    ...block.lines.map((line): Interval => [y + line.y - 14, y + line.y + 4]),
    ...block.terminals.map(
      (terminal): Interval => [y + terminal.y - TERMINAL_PITCH / 2, y + terminal.y + TERMINAL_PITCH / 2],
    ),
  ];
}
