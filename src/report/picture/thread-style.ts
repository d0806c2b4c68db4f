/**
 * How threads look: colour, dash pattern and letter, always together. The colours are those of M. Okabe and K. Ito, "Color
 * Universal Design" (2008); each thread has an outline of ink, so that the pale ones stand out on paper and the dark
 * ones on slate.
 */
import type { Attributes } from "./svg.ts";

/** Published values, in the order that they are given out. */
export const COLOURS: readonly string[] = [
  "#0072B2",
  "#E69F00",
  "#009E73",
  "#CC79A7",
  "#56B4E9",
  "#D55E00",
  "#F0E442",
  "#000000",
];

/** Lengths of dashes and gaps; none for a whole line. */
const PATTERNS: readonly (readonly number[])[] = [
  [],
  [12, 4],
  [5, 4],
  [16, 4, 4, 4],
  [8, 4, 4, 4, 4, 4],
  [24, 4],
  [9, 8],
  [4, 8],
];

/** Width of the coloured line, and of the ink on each side of it. */
const THREAD_WIDTH = 2.6;
const OUTLINE = 0.8;

/** How the network of that number looks. */
export type ThreadStyle = {
  /** The line of ink below. */
  readonly outline: Attributes;
  /** The coloured line above. */
  readonly core: Attributes;
};

/** The style of a network by its place in the picture; 64 of them differ. `share` makes it thinner. Default: 1. */
export function threadStyle(index: number, share = 1): ThreadStyle {
  const colour = COLOURS[index % COLOURS.length] ?? "#000000";
  const pattern = PATTERNS[(index + Math.floor(index / COLOURS.length)) % PATTERNS.length] ?? [];
  const stretched = pattern.map((length, place) => (place % 2 === 0 ? length + 2 * OUTLINE : length - 2 * OUTLINE));
  const dashed = pattern.length === 0 ? {} : { "stroke-dasharray": pattern.join(" ") };
  return {
    outline: {
      class: "dp-outline",
      "stroke-width": share * (THREAD_WIDTH + 2 * OUTLINE),
      ...(pattern.length === 0 ? {} : { "stroke-dasharray": stretched.join(" "), "stroke-dashoffset": OUTLINE }),
    },
    core: { class: "dp-thread", stroke: colour, "stroke-width": share * THREAD_WIDTH, ...dashed },
  };
}

/** The same as dots, for what goes through the air. */
export function dottedStyle(index: number | undefined): ThreadStyle {
  const dots = { "stroke-linecap": "round", "stroke-dasharray": "0 7" };
  const colour = index === undefined ? {} : { stroke: COLOURS[index % COLOURS.length] ?? "#000000" };
  return {
    outline: { class: "dp-outline", "stroke-width": 4.6, ...dots },
    core: { class: index === undefined ? "dp-ink" : "dp-thread dp-dots", ...colour, "stroke-width": 3, ...dots },
  };
}
