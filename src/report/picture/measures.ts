/**
 * The measures of the drawing, in pixels of the drawing (one is 1/96 inch in print).
 */

/** A place. */
export type Point = {
  /** From the left. */
  readonly x: number;
  /** From the top. */
  readonly y: number;
};

/** A rectangle. */
export type Box = Point & {
  /** To the right. */
  readonly width: number;
  /** Downwards. */
  readonly height: number;
};

/** Size of a device's name. */
export const NAME_SIZE = 13;
/** Size of small letters; nothing is smaller. */
export const SMALL_SIZE = 10;
/** Distance of lines of small letters. */
export const SMALL_LINE = 13;
/** Side of a terminal. */
export const TERMINAL = 8;
/** Least distance of two terminals on an edge. */
export const TERMINAL_PITCH = 18;
/** Distance of two strands of a bond on an edge. */
export const STRAND_PITCH = 15;
/** Distance of threads side by side. */
export const THREAD_PITCH = 5;
/** Most that the threads of one wire take together: more of them lie closer. */
const WIDEST_BUNDLE = 50;
/** Distance between blocks below one another. */
export const BLOCK_GAP = 10;
/** Space around the whole. */
export const MARGIN = 20;
/** Widest name. */
export const WIDEST_NAME = 170;
/** Widest line of small letters in a block. */
export const WIDEST_SMALL = 350;
/** Widest name of a port. */
export const WIDEST_PORT = 100;

/** Distance of the threads of a wire that has so many. */
export function threadPitch(count: number): number {
  return Math.min(THREAD_PITCH, WIDEST_BUNDLE / Math.max(count, 1));
}

/** Width of all threads of a wire together. */
export function bundleWidth(count: number): number {
  return Math.max(count, 1) * threadPitch(count);
}
