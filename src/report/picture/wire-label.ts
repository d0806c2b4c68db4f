/**
 * What is written on a wire: rate, letters of its threads, and which are missing.
 */
import type { PictureThread, PictureWire, SitePicture } from "../../result/index.ts";
import { SMALL_SIZE } from "./measures.ts";
import { rateText, textWidth } from "./text-size.ts";

/** The label of a wire. */
export type WireLabel = {
  /** Rate and letters: `2 x 1G  A C D`. */
  readonly text: string;
  /** What is missing: `no B`; empty: nothing. */
  readonly lacking: string;
};

/** More letters than this are counted, not listed. */
const MOST_LETTERS = 8;

/** Writes it. */
export function wireLabel(wire: PictureWire, { networks }: SitePicture): WireLabel {
  const letters = new Map(networks.map(({ name, letter }) => [name, letter]));
  const list = (threads: readonly PictureThread[]): string =>
    threads.length > MOST_LETTERS
      ? `${threads.length} networks`
      : threads.map(({ network }) => letters.get(network) ?? "").join(" ");
  const there = wire.threads.filter(({ carriedBy }) => carriedBy === "both");
  const ends = wire.threads.filter(({ carriedBy }) => carriedBy === "first" || carriedBy === "second");
  const missing = wire.threads.filter(({ carriedBy }) => carriedBy === "neither");
  const lacking = [
    ...(ends.length === 0 ? [] : [`${list(ends)} stops`]),
    ...(missing.length === 0 ? [] : [`no ${list(missing)}`]),
  ];
  return { text: [headOf(wire), list(there)].filter((each) => each !== "").join(" "), lacking: lacking.join(", ") };
}

function headOf({ kind, parts, rateMbps, up }: PictureWire): string {
  const down = up ? "" : "down";
  const rate = rateText(rateMbps);
  return [kind === "bond" ? `${parts.length} \u00d7 ${rate}` : rate, down].filter((each) => each !== "").join(" ");
}

/** Room for any label that a wire could have with its threads. */
export function labelWidth(wire: PictureWire): number {
  const threads = Math.min(wire.threads.length, MOST_LETTERS);
  const missing = wire.threads.some(({ carriedBy }) => carriedBy !== "both");
  return textWidth(headOf(wire), SMALL_SIZE) + threads * 12 + (missing ? 44 : 0) + (wire.kind === "bond" ? 22 : 6);
}
