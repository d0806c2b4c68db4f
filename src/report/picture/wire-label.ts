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

/** More pieces than this are counted, not listed. */
const MOST_PIECES = 6;

/** Writes it. */
export function wireLabel(wire: PictureWire, { networks }: SitePicture): WireLabel {
  const places = new Map(networks.map(({ name }, index) => [name, index]));
  const list = (threads: readonly PictureThread[]): string =>
    lettersOf(
      threads.map(({ network }) => places.get(network) ?? 0),
      networks,
    );
  const there = wire.threads.filter(({ carriedBy }) => carriedBy === "both");
  const ends = wire.threads.filter(({ carriedBy }) => carriedBy === "first" || carriedBy === "second");
  const missing = wire.threads.filter(({ carriedBy }) => carriedBy === "neither");
  const lacking = [
    ...(ends.length === 0 ? [] : [`${list(ends)} ${ends.length === 1 ? "stops" : "stop"}`]),
    ...(missing.length === 0 ? [] : [`no ${list(missing)}`]),
  ];
  return { text: [headOf(wire), list(there)].filter((each) => each !== "").join(" "), lacking: lacking.join(", ") };
}

/** `A C-F`: three and more in a row are told by the first and the last. */
function lettersOf(places: readonly number[], networks: SitePicture["networks"]): string {
  const runs: { first: number; last: number }[] = [];
  for (const place of places) {
    const run = runs.at(-1);
    if (run !== undefined && run.last === place - 1) run.last = place;
    else runs.push({ first: place, last: place });
  }
  const letter = (place: number): string => networks[place]?.letter ?? "";
  const told = runs.flatMap(({ first, last }) =>
    last - first < 2 ? [...new Set([letter(first), letter(last)])] : [`${letter(first)}\u2013${letter(last)}`],
  );
  return told.length > MOST_PIECES ? `${places.length} networks` : told.join(" ");
}

function headOf({ kind, parts, rateMbps, up }: PictureWire): string {
  const down = up ? "" : "down";
  const rate = rateText(rateMbps);
  return [kind === "bond" ? `${parts.length} \u00d7 ${rate}` : rate, down].filter((each) => each !== "").join(" ");
}

/** Room for any label that a wire could have with its threads. */
export function labelWidth(wire: PictureWire): number {
  const threads = Math.min(wire.threads.length, MOST_PIECES);
  const missing = wire.threads.some(({ carriedBy }) => carriedBy !== "both");
  return textWidth(headOf(wire), SMALL_SIZE) + threads * 12 + (missing ? 44 : 0) + (wire.kind === "bond" ? 22 : 6);
}
